import { describe, expect, test } from 'vitest'
import { apply, applyAll, isBeyondWindow, startLedger, WINDOW, withPolicy } from '../../src/ledger/apply.ts'
import { cellsOf } from '../../src/ledger/cells.ts'
import { headline } from '../../src/ledger/headline.ts'
import { nextChange, read } from '../../src/ledger/read.ts'
import type { Entry, Left } from '../../src/ledger/types.ts'
import { COIN, DOOR, entries, entry, inShort, ledgerOf, reading, time } from './notation.ts'

const at = (clock: string): number => Date.parse(time(clock))
const TWO = { W01: COIN, W02: COIN }

describe('twins', () => {
  const sequence = 'W01 18:00:00 opened L, W01 18:00:02 rest L, W02 18:00:02.5 opened L, W02 18:00:08 rest L'
  test('a takeover with another contact’s word beside it doubts both', () => {
    const readings = read(ledgerOf(sequence, TWO), at('18:01'))
    expect(readings.map(one => [one.mark, one.doubts, one.twinWith])).toEqual([
      ['W01', ['twin'], 'W02'],
      ['W02', ['twin'], 'W01'],
    ])
  })
  test('the other word may stand before the takeover', () => {
    const before = 'W01 18:00:00 opened L, W02 18:00:02 opened L, W01 18:00:02.2 rest L'
    expect(read(ledgerOf(before, TWO), at('18:01')).map(one => one.twinWith)).toEqual(['W02', 'W01'])
  })
  test('another word more than 2 s away is no twin', () => {
    const far = 'W01 18:00:00 opened L, W01 18:00:02 rest L, W02 18:00:04.1 opened L'
    expect(read(ledgerOf(far, TWO), at('18:01')).map(one => one.twinWith)).toEqual([undefined, undefined])
  })
  test('mending one of them clears both', () => {
    const mended = read(ledgerOf(`${sequence}, W02 19:00 flashed L`, TWO), at('19:01'))
    expect(mended.map(one => one.twinWith)).toEqual([undefined, undefined])
  })
})

describe('taking back', () => {
  const undo = (id: string, undoes: string): Entry => ({ ...entry('18:30 undone L', id), undoes })
  test('what was taken back never happened', () => {
    const ledger = apply(ledgerOf('18:00 opened L, 18:10 seen-closed L'), undo('u1', 'e1'))
    expect(inShort(read(ledger, at('18:31'))[0]!)).toBe('opened 18:00:00 1/1 []')
  })
  test('taking back the taking back restores it', () => {
    const ledger = applyAll(ledgerOf('18:00 opened L, 18:10 seen-closed L'), [undo('u1', 'e1'), undo('u2', 'u1')])
    expect(inShort(read(ledger, at('18:31'))[0]!)).toBe('closed 18:10:00 1/1 []')
  })
  test('a new cell taken back gives the old count back', () => {
    const ledger = apply(
      ledgerOf('17:00 opened L, 18:00 opened L, 18:10 cell-fitted L, 18:20 opened L'),
      undo('u', 'e2'),
    )
    expect(read(ledger, at('18:31'))[0]).toMatchObject({ openings: 3, sends: 3 })
  })
  test('what lies before the window is said to', () => {
    let ledger = ledgerOf('01:00 opened L')
    for (let i = 0; i < WINDOW; i++) ledger = apply(ledger, entry('02:00 note L', `n${i}`))
    expect(isBeyondWindow(ledger, 'W01', { id: 'e0' })).toBe(true)
    expect(isBeyondWindow(ledger, 'W01', { at: time('01:30') })).toBe(true)
    expect(isBeyondWindow(ledger, 'W01', { id: `n${WINDOW - 1}` })).toBe(false)
    expect(read(ledger, at('03:00'))[0]).toMatchObject({ openings: 1, sends: 1 })
  })
})

describe('cells', () => {
  test('sends before counting began are unknown, and said to be', () => {
    expect(reading('18:00 opened L', '18:01')).toMatchObject({ sends: 1, countedSince: time('00:00') })
  })
  test('a backdated new cell counts what came after it', () => {
    const late = reading('09:00 opened L, 10:00 opened L, 11:00 opened L, 09:30 cell-fitted S', '12:00')
    expect(late).toMatchObject({ openings: 3, sends: 2, countedSince: time('09:30') })
  })
  test('a dead cell is a lifetime that ended between the last word and the next try', () => {
    const ledger = ledgerOf(
      '01:00 cell-fitted L, 02:00 opened L, 03:00 opened L, 04:00:06 rest L 99, 05:00 cell-fitted L, 06:00 opened L, 07:00 cell-fitted L',
    )
    expect(cellsOf(ledger, at('08:00'))[0]!.past).toEqual([
      { type: 'CR2032', sends: 2, ended: 'failed', counted: true },
      { type: 'CR2032', sends: 1, ended: 'changed', counted: true },
    ])
  })
  test('low comes from the chance, and stays until a new cell', () => {
    const left = (next: number): Record<string, Left> => ({
      W01: { p05: 0, p50: 1, p95: 3, next, restsOn: { source: 'house', cells: 7, deaths: 3 } },
    })
    const ledger = ledgerOf('18:00 opened L')
    const doubts = (from: typeof ledger, next: number) => read(from, at('18:05'), undefined, left(next))[0]!.doubts
    expect(doubts(ledger, 0.91)).toEqual([])
    expect(doubts(ledger, 0.89)).toEqual(['low'])
    const latched = apply(ledger, { ...entry('18:05 note L', 'n'), by: 'sashtally', text: 'low' })
    expect(doubts(latched, 0.95)).toEqual(['low'])
    expect(doubts(apply(latched, entry('18:10 cell-fitted L', 'c')), 0.95)).toEqual(['untested'])
  })
  test('low comes from the plain count while the house knows no death', () => {
    const policy = { W01: { ...COIN, modelSends: 2 } }
    expect(read(ledgerOf('17:00 opened L', policy), at('18:05'))[0]!.doubts).toEqual([])
    expect(read(ledgerOf('17:00 opened L, 18:00 opened L', policy), at('18:05'))[0]!.doubts).toEqual(['low'])
  })
  test('a test at the bench that failed does not spend the cell', () => {
    const ledger = apply(ledgerOf('18:00 opened L'), { ...entry('18:10 failed L', 'f'), text: 'bench' })
    expect(read(ledger, at('18:11'))[0]!.doubts).toEqual([])
  })
})

describe('doubts', () => {
  test('untested after provenWithinDays, to the second', () => {
    const ledger = ledgerOf('18:00 opened L', { W01: { ...COIN, provenWithinDays: 1 } })
    expect(read(ledger, at('18:00') + 86_400_000)[0]!.doubts).toEqual([])
    expect(read(ledger, at('18:00') + 86_400_001)[0]!.doubts).toEqual(['untested'])
    expect(nextChange(ledger, at('18:00:17'))).toBe(at('18:00') + 86_400_001)
  })
  test('reflash when the module speaks another revision than the register gives', () => {
    const policy = { W01: { ...COIN, revision: '0123abcd' } }
    const flashed = (revision: string) =>
      read(apply(ledgerOf('18:00 opened L', policy), { ...entry('18:01 flashed L', 'f'), revision }), at('18:02'))[0]!
    expect(flashed('0123abcd').doubts).toEqual([])
    expect(flashed('99999999').doubts).toEqual(['reflash'])
    expect(read(ledgerOf('18:00 opened L', policy), at('18:02'))[0]!.doubts).toEqual([])
  })
})

describe('registers that change', () => {
  test('an earlier mark hands its history over, before and after the edit', () => {
    const before = withPolicy(ledgerOf('18:00 opened L'), { W09: { ...COIN, was: ['W01'] } })
    const after = ledgerOf('18:00 opened L', { W09: { ...COIN, was: ['W01'] } })
    for (const ledger of [before, after])
      expect(read(ledger, at('18:30'))[0]).toMatchObject({ mark: 'W09', openings: 1 })
  })
  test('an opening that left and came back has its history', () => {
    const gone = withPolicy(ledgerOf('18:00 opened L'), {})
    expect(read(gone, at('18:30'))).toEqual([])
    expect(read(withPolicy(gone, { W01: COIN }), at('18:30'))[0]).toMatchObject({ openings: 1, sends: 1 })
  })
  test('marks that are names of object members are only marks', () => {
    const ledger = applyAll(
      startLedger({ constructor: COIN }),
      entries('18:00 opened L').map(e => ({ ...e, mark: 'constructor' })),
    )
    expect(read(ledger, at('18:30')).map(one => one.openings)).toEqual([1])
    expect(read(startLedger({ toString: COIN, valueOf: COIN }), at('18:30')).map(one => one.position)).toEqual([
      'no-word',
      'no-word',
    ])
  })
})

describe('headline', () => {
  const policy = { D01: DOOR, W01: COIN }
  const shut = 'D01 09:00 closed L, W01 09:00 opened L, W01 09:05 seen-closed L'
  test('all shut only when every opening is known to be and the link is fresh', () => {
    const readings = read(ledgerOf(shut, policy), at('10:00'))
    expect(headline(readings, true)).toMatchObject({ mayBeOpen: 0, notCertain: 0, allShut: true })
    expect(headline(readings, false).allShut).toBe(false)
    expect(headline([], true).allShut).toBe(false)
  })
  test.each([
    ['untested', 'D01 09:00 closed R, W01 09:00 opened L, W01 09:05 seen-closed L'],
    ['silent', `${shut}, D01 09:10 gone L`],
    ['spent', `${shut}, W01 09:10 failed L`],
    ['no word', 'D01 09:00 closed L'],
  ])('%s is not certain', (_name, sequence) => {
    expect(headline(read(ledgerOf(sequence, policy), at('10:00')), true)).toMatchObject({
      notCertain: 1,
      allShut: false,
    })
  })
  test('may be open is open and opened', () => {
    const readings = read(ledgerOf('D01 09:00 opened L, W01 09:00 opened L, W01 09:06 rest L', policy), at('10:00'))
    expect(headline(readings, true)).toMatchObject({ mayBeOpen: 2, open: 1, opened: 1, notCertain: 0 })
  })
})
