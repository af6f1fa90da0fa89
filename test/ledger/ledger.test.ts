import { describe, expect, test } from 'vitest'
import { apply, applyAll, isBeyondWindow, startLedger, WINDOW, withPolicy } from '../../src/ledger/apply.ts'
import { cellsOf } from '../../src/ledger/cells.ts'
import { headline, isSurelyShut } from '../../src/ledger/headline.ts'
import { nextChange, read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Left } from '../../src/protocol/reading.ts'
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
  test.each([
    ['2 s apart', 'W01 18:00:00 opened L, W01 18:00:02 rest L, W02 18:00:04 opened L', ['W02', 'W01']],
    [
      'a queued word',
      'W01 18:00:00 opened L, W01 18:00:02 rest L, W02 18:00:02-18:00:03 opened Q',
      [undefined, undefined],
    ],
    ['a kept copy', 'W01 18:00:00 opened L, W01 18:00:02 rest L, W02 18:00:02 opened R', [undefined, undefined]],
    [
      'a rest word',
      'W02 17:59:56 opened L, W01 18:00:00 opened L, W01 18:00:02 rest L, W02 18:00:02 rest L',
      [undefined, undefined],
    ],
    [
      'a rest word in its time',
      'W01 18:00:00 opened L, W01 18:00:06 rest L, W02 18:00:06 opened L',
      [undefined, undefined],
    ],
    ['its own word', 'W01 18:00:00 opened L, W01 18:00:02 rest L, W01 18:00:02.1 opened L', [undefined, undefined]],
  ])('%s', (_name, words, expected) => {
    const marks = ledgerOf(words, TWO).marks
    expect([marks.W01?.twinWith, marks.W02?.twinWith]).toEqual(expected)
  })
  test.each([
    [
      'heard before and up all the while',
      'D01 17:00 opened L, W01 18:00:00 opened L, W01 18:00:02 rest L, D01 18:00:02.5 closed L',
      undefined,
    ],
    [
      'whose word stood before the takeover',
      'D01 17:00 opened L, W01 18:00:00 opened L, D01 18:00:01.5 closed L, W01 18:00:02 rest L',
      undefined,
    ],
    [
      'that was lost just then',
      'D01 17:00 opened L, W01 18:00:00 opened L, D01 18:00:00.2 gone L, W01 18:00:02 rest L, D01 18:00:02.5 opened L',
      'D01',
    ],
    ['that was never heard before', 'W01 18:00:00 opened L, W01 18:00:02 rest L, D01 18:00:02.5 closed L', 'D01'],
  ])('a door %s', (_name, words, twin) => {
    const { marks } = ledgerOf(words, { W01: COIN, D01: DOOR })
    expect(marks.W01?.twinWith).toBe(twin)
    expect(marks.D01?.twinWith).toBe(twin && 'W01')
  })
  test('thirty words of others in between hide no twin', () => {
    const between = Array.from({ length: 30 }, (_, n) => `W03 18:00:0${(2 + n / 100).toFixed(2)} opened L`).join(', ')
    const { marks } = ledgerOf(`W01 18:00 opened L, W02 18:00:01.9 opened L, ${between}, W01 18:00:02.4 rest L`, TWO)
    expect(marks.W01?.twinWith).toBeDefined()
  })
  test('two hundred openings in ten seconds, each with its rest word in time, make no twins', () => {
    const marks = Array.from({ length: 200 }, (_, n) => `M${n}`)
    const words = marks.flatMap((mark, n) => [
      { ...entry(`18:00:${(n * 0.05).toFixed(2)} opened L`, `o${n}`), mark },
      { ...entry(`18:00:${(6 + n * 0.05).toFixed(2)} rest L`, `r${n}`), mark },
    ])
    const ledger = applyAll(
      startLedger(Object.fromEntries(marks.map(mark => [mark, COIN]))),
      words.sort((a, b) => (a.at < b.at ? -1 : 1)),
    )
    expect(Object.values(ledger.marks).filter(state => state.twinWith !== undefined)).toEqual([])
    expect(Object.values(ledger.marks).every(({ fold }) => fold.openings === 1 && fold.sends === 1)).toBe(true)
  })
  test('a twin follows a mark to its new name, and is mended there', () => {
    const policy = { W09: { ...COIN, was: ['W01'] }, W02: COIN }
    const renamed = withPolicy(ledgerOf(sequence, TWO), policy)
    expect(read(renamed, at('18:01')).map(one => one.twinWith)).toEqual(['W02', 'W09'])
    const mended = apply(renamed, entry('W09 19:00 proved L', 'p'))
    expect(read(mended, at('19:01')).map(one => one.twinWith)).toEqual([undefined, undefined])
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
  test('only what came before is taken back', () => {
    const policy = { W01: COIN }
    const early = applyAll(startLedger(policy), [undo('u', 'late'), entry('18:00 opened L', 'late')])
    expect(inShort(read(early, at('18:31'))[0]!)).toBe('opened 18:00:00 1/1 []')
    expect(inShort(read(withPolicy(early, policy), at('18:31'))[0]!)).toBe('opened 18:00:00 1/1 []')
  })
  test('a new cell taken back gives the life back that it had ended', () => {
    const ledger = ledgerOf('17:00 opened L, 17:30 failed L, 18:10 cell-fitted L, 18:20 opened L')
    expect(cellsOf(ledger, at('18:31'))[0]!.past).toHaveLength(1)
    expect(cellsOf(apply(ledger, undo('u', 'e2')), at('18:31'))[0]).toMatchObject({ past: [], sends: 2 })
  })
  test.each([
    ['opened', ''],
    ['rest', '18:00 opened L'],
    ['closed', '18:00 opened L'],
    ['gone', '18:00 opened L'],
    ['odd', ''],
    ['seen-closed', '18:00 opened L'],
    ['cell-fitted', '18:00 opened L'],
    ['module-fitted', '18:00 opened L'],
    ['flashed', '18:00 opened L'],
    ['proved', ''],
    ['failed', '18:00 opened L'],
    ['round', ''],
    ['note', ''],
  ])('%s taken back leaves no trace', (what, before) => {
    for (const [policy, how] of [
      [COIN, 'L'],
      [COIN, 'R'],
      [COIN, 'S'],
      [DOOR, 'L'],
    ] as const) {
      const plain = ledgerOf(`${before || '17:00 round L'}, 18:09 round L`, { W01: policy })
      const more = {
        ...entry(`18:10 ${what} ${how}`, 'x'),
        revision: '0123abcd',
        millivolts: 3000,
        text: 'low',
        by: 'sashtally',
      }
      const undone = apply(apply(plain, more), undo('u', 'x'))
      expect(undone.marks.W01!.fold).toEqual(plain.marks.W01!.fold)
    }
  })
  test('an id that is taken back does not come again', () => {
    const ledger = apply(ledgerOf('18:00 opened L'), undo('u', 'e0'))
    expect(apply(ledger, entry('18:00 opened L', 'e0'))).toBe(ledger)
  })
  test('a young opening has no window that a time could lie before, through JSON too', () => {
    const young = ledgerOf('12:00 opened L')
    for (const ledger of [young, JSON.parse(JSON.stringify(young))])
      expect(isBeyondWindow(ledger, 'W01', { at: time('09:00') })).toBe(false)
  })
  test('the last 256 entries can be taken back', () => expect(WINDOW).toBe(256))
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
      {
        type: 'CR2032',
        sends: 2,
        ended: 'failed',
        counted: true,
        fittedAt: at('01:00'),
        // the lone rest word stands for an opening 1.5 keep-alives before it
        lastAt: at('04:00'),
        endedAt: at('05:00'),
      },
      {
        type: 'CR2032',
        sends: 1,
        ended: 'changed',
        counted: true,
        fittedAt: at('05:00'),
        lastAt: at('06:00'),
        endedAt: at('07:00'),
      },
    ])
  })
  test('low comes from the chance, and stays until a new cell', () => {
    const left = (next: number): Record<string, Left> => ({
      W01: { p05: 0, p50: 1, p95: 3, next, restsOn: { source: 'house', cells: 7, deaths: 3 } },
    })
    const ledger = ledgerOf('18:00 opened L')
    const doubts = (from: typeof ledger, next: number) => read(from, at('18:05'), undefined, left(next))[0]!.doubts
    expect(doubts(ledger, 0.9)).toEqual([])
    expect(doubts(ledger, 0.89)).toEqual(['low'])
    const others = apply(ledger, { ...entry('18:05 note L', 'n'), by: 'Ana', text: 'low' })
    expect(doubts(others, 0.95)).toEqual([])
    const latched = apply(ledger, { ...entry('18:05 note L', 'n'), by: 'sashtally', text: 'low' })
    expect(doubts(latched, 0.95)).toEqual(['low'])
    expect(doubts(apply(latched, entry('18:10 cell-fitted L', 'c')), 0.95)).toEqual(['untested'])
  })
  test('low comes from the plain count while the house knows no death', () => {
    const policy = { W01: { ...COIN, modelSends: 2 } }
    expect(read(ledgerOf('17:00 opened L', policy), at('18:05'))[0]!.doubts).toEqual([])
    expect(read(ledgerOf('17:00 opened L, 18:00 opened L', policy), at('18:05'))[0]!.doubts).toEqual(['low'])
  })
  test('a proof that is said to have cost sends spends them, and they got through', () => {
    const proved = apply(ledgerOf('18:00 opened L #7'), { ...entry('18:10 proved L', 'p'), sends: 2 })
    expect(cellsOf(proved, at('18:11'))[0]).toMatchObject({ sends: 3, sendsThrough: 3 })
    expect(read(apply(proved, entry('18:30 opened L #10', 'o')), at('18:31'))[0]).toMatchObject({ sends: 4 })
  })
  test('tries of a failed test are sends that did not get through', () => {
    const failed = apply(ledgerOf('18:00 opened L'), { ...entry('18:10 failed L', 'f'), sends: 2 })
    expect(cellsOf(failed, at('18:11'))[0]).toMatchObject({ sends: 3, sendsThrough: 1, failing: true })
  })
  test('mains has no sends, whatever an entry says', () => {
    const sent = ['opened L', 'proved L', 'failed L', 'cell-fitted L'].map((words, n) => ({
      ...entry(`D01 18:0${n} ${words}`, `s${n}`),
      sends: 3,
    }))
    expect(read(applyAll(startLedger({ D01: DOOR }), sent), at('19:00'))[0]!.sends).toBe(0)
  })
  test('a part-used cell brings its sends', () => {
    const ledger = apply(ledgerOf('18:00 opened L'), { ...entry('18:10 cell-fitted L', 'c'), sends: 5 })
    expect(read(apply(ledger, entry('18:20 opened L', 'o')), at('19:00'))[0]!.sends).toBe(6)
  })
  test('a word that stands for several tries counts them', () => {
    const ledger = apply(ledgerOf('18:00 opened L'), { ...entry('18:10 opened L', 'c'), sends: 3 })
    expect(read(ledger, at('19:00'))[0]).toMatchObject({ openings: 2, sends: 4 })
  })
  test('the plain count no longer tells once the house knows a death', () => {
    const ledger = ledgerOf('17:00 opened L, 18:00 opened L', { W01: { ...COIN, modelSends: 2 } })
    const doubts = (deaths: number) => {
      const restsOn = { source: 'house', cells: 7, deaths } as const
      return read(ledger, at('18:05'), undefined, { W01: { p05: 1, p50: 9, p95: 30, next: 0.97, restsOn } })[0]!.doubts
    }
    expect(doubts(0)).toEqual(['low'])
    expect(doubts(1)).toEqual([])
  })
  test('a proof at the bench does not say that the spent cell works', () => {
    const proved = { ...entry('18:10 proved L', 'p'), text: 'bench' }
    expect(read(apply(ledgerOf('18:00 failed L'), proved), at('18:11'))[0]!.doubts).toEqual(['spent'])
    expect(read(apply(ledgerOf('18:00 failed L'), entry('18:10 proved L', 'p')), at('18:11'))[0]!.doubts).toEqual([])
  })
  test('a cell that is faint fails, and is running again after a word', () => {
    const failing = (words: string) => cellsOf(ledgerOf(words), at('19:00'))[0]!.failing
    expect(failing('18:00 opened L, 18:30:06 rest L 99')).toBe(true)
    expect(failing('18:00 opened L, 18:30:06 rest L 99, 18:50 opened L')).toBe(false)
  })
  test('fifty cells of an opening are kept', () => {
    const fitted = Array.from({ length: 60 }, (_, n) => [
      entry(`0${Math.floor(n / 10)}:${10 + (n % 10)} opened L`, `o${n}`),
      entry(`0${Math.floor(n / 10)}:${30 + (n % 10)} cell-fitted L`, `c${n}`),
    ])
    expect(cellsOf(applyAll(startLedger(TWO), fitted.flat()), at('18:00'))[0]!.past).toHaveLength(50)
  })
  test('openings are observed from the first word to the last, not from what is said of the time before', () => {
    const spansOf = (ledger: ReturnType<typeof ledgerOf>) => cellsOf(ledger, at('12:00'))[0]!
    const begin = Date.parse(ledgerOf('06:00 opened L').since!)
    expect(spansOf(ledgerOf('06:00 opened L'))).toMatchObject({
      spans: [[begin, at('06:00')]],
      quietSince: at('06:00'),
    })
    const earlier = { ...entry('06:00 cell-fitted S', 'c'), at: '2026-11-24T00:00:00.000Z' }
    expect(spansOf(apply(ledgerOf('06:00 opened L'), earlier)).spans).toEqual([[begin, at('06:00')]])
    const word = { ...earlier, what: 'opened' } as const
    expect(spansOf(apply(ledgerOf('06:00 opened L'), word)).spans).toEqual([
      [Date.parse('2026-11-24T00:00:00.000Z'), at('06:00')],
    ])
  })
  test('silence counts from the last word or the fitting of the cell, whichever is later', () => {
    const quietSince = (words: string) => cellsOf(ledgerOf(words), at('12:00'))[0]!.quietSince
    expect(quietSince('06:00 opened L')).toBe(at('06:00'))
    expect(quietSince('06:00 opened L, 08:00 cell-fitted L')).toBe(at('08:00'))
    expect(quietSince('06:00 opened L, 08:00 cell-fitted L, 09:00 proved L')).toBe(at('09:00'))
  })
  test('volts under load are summed by send, of one cell and one module', () => {
    const word = (time: string, id: string, millivolts: number) => ({ ...entry(`${time} opened L`, id), millivolts })
    const lineOf = (ledger: ReturnType<typeof ledgerOf>) => cellsOf(ledger, at('12:00'))[0]!
    const ledger = applyAll(ledgerOf('01:00 cell-fitted L'), [word('02:00', 'a', 2500), word('03:00', 'b', 2480)])
    expect(lineOf(ledger).line).toEqual({ n: 2, j: 3, jj: 5, v: 4980, vj: 7460, vv: 2500 ** 2 + 2480 ** 2 })
    const changed = apply(ledger, entry('04:00 cell-fitted L', 'c'))
    expect(lineOf(changed)).not.toHaveProperty('line')
    expect(lineOf(changed).past[0]).toMatchObject({ line: { n: 2 } })
    expect(lineOf(apply(changed, entry('05:00 module-fitted L', 'm'))).past[0]).not.toHaveProperty('line')
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
    const wrong = apply(ledgerOf('18:00 opened L', policy), { ...entry('18:01 flashed L', 'f'), revision: '99999999' })
    expect(read(apply(wrong, entry('18:02 module-fitted L', 'm')), at('18:03'))[0]!.doubts).toEqual(['untested'])
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
  test('earlier marks hand over in the order they spoke, however the register lists them', () => {
    const before = ledgerOf('W01 16:00 opened L, W01 16:05 seen-closed L, W02 17:00 opened L, W03 18:00 note L', {
      W01: COIN,
      W02: COIN,
      W03: COIN,
    })
    for (const was of [
      ['W01', 'W02'],
      ['W02', 'W01'],
    ]) {
      const policy = { W03: { ...COIN, was } }
      expect(inShort(read(withPolicy(before, policy), at('18:30'))[0]!)).toBe('opened 17:00:00 2/2 []')
    }
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
    ['faint', 'D01 09:00 closed L, W01 08:00 opened L, W01 09:00:06 rest L 99, W01 09:05 seen-closed L'],
  ])('%s is not certain', (_name, sequence) => {
    expect(headline(read(ledgerOf(sequence, policy), at('10:00')), true)).toMatchObject({
      notCertain: 1,
      allShut: false,
    })
  })
  test('two contacts with one client id are not certain', () => {
    const two = 'W01 09:00:00 opened L, W01 09:00:02 rest L, W02 09:00:02 opened L'
    const looked = `${two}, W01 09:05 seen-closed L, W02 09:05 seen-closed L`
    expect(headline(read(ledgerOf(looked, TWO), at('10:00')), true)).toMatchObject({ notCertain: 2, allShut: false })
  })
  describe('after a time in which nobody listened', () => {
    const unheard = (clock: string): Entry[] =>
      ['D01', 'W01'].map(mark => ({
        ...entry(`${clock} note L`, `gap-${mark}-${clock}`, mark),
        by: 'sashtally',
        text: 'unheard',
      }))
    const readAfter = (list: readonly Entry[], now = '10:00') =>
      read(applyAll(startLedger(policy, time('00:00')), list), at(now))
    test('what was shut is not certain', () => {
      const readings = readAfter([...entries(shut), ...unheard('09:30')])
      expect(readings.map(one => [one.mark, one.position, one.unheard])).toEqual([
        ['D01', 'closed', time('09:30')],
        ['W01', 'closed', time('09:30')],
      ])
      expect(headline(readings, true)).toMatchObject({ mayBeOpen: 0, notCertain: 2, allShut: false })
    })
    test.each([
      ['its closed word that the broker kept', '09:31 closed R', 'closed', undefined],
      ['its closed word', '09:31 closed L', 'closed', undefined],
      ['its lost link', '09:31 gone R', 'closed', time('09:30')],
      ['its open word that the broker kept', '09:31 opened R', 'open', undefined],
      ['an odd word', '09:31 odd L', 'closed', time('09:30')],
    ])('a contact of both edges says how it stands: %s', (_name, word, position, until) => {
      const [door] = readAfter([...entries(shut), ...unheard('09:30'), entry(word, 'w', 'D01')])
      expect([door?.position, door?.unheard]).toEqual([position, until])
    })
    test.each(['D01', 'W01'])('a word of %s that the register does not know may have meant that it opened', mark => {
      const odd = (how: string) => [...entries(shut), entry(`09:31 odd ${how}`, 'w', mark)]
      const unheardOf = (list: readonly Entry[]) => readAfter(list).find(one => one.mark === mark)?.unheard
      expect(unheardOf(odd('L'))).toBe(time('09:31'))
      expect(unheardOf(odd('R')), 'a copy that the broker kept comes at each start').toBeUndefined()
      expect(unheardOf([...odd('L'), entry('09:40 seen-closed L', 'look', mark)])).toBeUndefined()
      expect(headline(readAfter(odd('L')), true)).toMatchObject({ notCertain: 1, allShut: false })
    })
    test.each([
      ['what it said itself', 'D01 09:00 opened L, D01 09:05 closed L', undefined],
      ['the same, its link lost since', 'D01 09:00 opened L, D01 09:05 closed L, D01 09:10 gone L', undefined],
      ['what somebody saw', 'D01 09:00 opened L, D01 09:05 seen-closed L', true],
      ['the same, its link lost since', 'D01 09:00 opened L, D01 09:05 seen-closed L, D01 09:10 gone L', true],
      ['what it said after that', 'D01 09:00 opened L, D01 09:05 seen-closed L, D01 09:10 closed L', undefined],
      ['a look at what it had said', 'D01 09:00 closed L, D01 09:05 seen-closed L, D01 09:10 closed L', true],
    ])('whether a closed door was seen or said itself is kept apart: %s', (_name, sequence, seen) => {
      const [door] = read(ledgerOf(sequence, policy), at('10:00'))
      expect([door?.position, door?.seen]).toEqual(['closed', seen])
    })
    test.each([
      ['it had said open', 'D01 09:00 opened L, D01 09:05 seen-closed L', true],
      ['and then fell silent', 'D01 09:00 opened L, D01 09:05 seen-closed L, D01 09:10 gone L', true],
      ['and then said shut', 'D01 09:00 opened L, D01 09:05 seen-closed L, D01 09:10 closed L', undefined],
      ['it had said shut', 'D01 09:00 closed L, D01 09:05 seen-closed L', undefined],
      ['nothing was heard of it', 'D01 09:05 seen-closed L', undefined],
      ['it cannot say shut', 'W01 09:00 opened L, W01 09:05 seen-closed L', undefined],
    ])('a look against what a contact said is told: %s', (_name, sequence, against) => {
      const seen = read(ledgerOf(sequence, policy), at('10:00')).find(({ position }) => position === 'closed')
      expect([seen?.position, seen?.against]).toEqual(['closed', against])
      expect(isSurelyShut({ ...seen!, doubts: [] }), 'and keeps the house from being all shut').toBe(!against)
    })
    test('what it said before somebody looked does not speak for that look', () => {
      const looked = 'D01 09:00 opened L, D01 09:05 seen-closed L'
      const kept = [...entries(looked), ...unheard('09:30').slice(0, 1), entry('09:31 opened R', 'w', 'D01')]
      expect(readAfter(kept)[0]).toMatchObject({ position: 'closed', unheard: time('09:30') })
      expect(readAfter([...kept, entry('09:40 closed L', 'x', 'D01')])[0]).not.toHaveProperty('unheard')
    })
    test('a look after it makes it certain, one before it does not, be it said late', () => {
      const look = (clock: string, how: Entry['how']): Entry => ({
        ...entry(`${clock} seen-closed`, `look-${clock}`),
        how,
      })
      const gap = [...entries(shut), ...unheard('09:30').slice(1)]
      expect(headline(readAfter([...gap, look('09:40', 'live')]), true).allShut).toBe(true)
      expect(headline(readAfter([...gap, look('09:20', 'said')]), true).allShut).toBe(false)
      expect(readAfter([...gap, entry('09:50 opened L', 'o')])[1]).not.toHaveProperty('unheard')
    })
    test('a clock that was set back between a look and it makes nothing certain', () => {
      expect(readAfter([...entries(shut), ...unheard('08:30')])[1]).toMatchObject({ unheard: time('08:30') })
    })
    test('nothing else that anybody notes does that', () => {
      const noted = unheard('09:30').map(note => ({ ...note, by: 'Ada' }))
      expect(headline(readAfter([...entries(shut), ...noted]), true).allShut).toBe(true)
    })
  })
  test('may be open is open and opened', () => {
    const readings = read(ledgerOf('D01 09:00 opened L, W01 09:00 opened L, W01 09:06 rest L', policy), at('10:00'))
    expect(headline(readings, true)).toMatchObject({ mayBeOpen: 2, open: 1, opened: 1, notCertain: 0 })
  })
})
