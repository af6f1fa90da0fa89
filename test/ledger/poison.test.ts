import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { apply, applyAll, startLedger, withPolicy } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import { type Entry, HOWS } from '../../src/protocol/entry.ts'
import { WHATS } from '../../src/protocol/whats.ts'
import { COIN, DOOR, entry, inShort, ledgerOf, time } from './notation.ts'

const NOW = Date.parse(time('19:00'))
const GOOD = entry('18:00 opened L', 'good')
const start = startLedger({ W01: COIN, D01: DOOR }, time('00:00'))
const wrong = (fields: object): Entry => ({ ...GOOD, id: 'wrong', ...fields }) as Entry

describe('entries that cannot be', () => {
  test.each<[string, unknown]>([
    ['nothing', undefined],
    ['null', null],
    ['text', 'opened'],
    ['no id', wrong({ id: undefined })],
    ['an empty id', wrong({ id: '' })],
    ['no time', wrong({ at: undefined })],
    ['a time that is none', wrong({ at: 'yesterday' })],
    ['a day that is none', wrong({ at: '2026-13-45T00:00:00.000Z' })],
    ['a time without a zone, which every process would read differently', wrong({ at: '2026-11-25T18:00:00' })],
    ['a time in milliseconds', wrong({ at: NOW })],
    ['a year beyond four digits', wrong({ at: '+275760-09-13T00:00:00.000Z' })],
    ['no mark', wrong({ mark: undefined })],
    ['a mark that is the name of a prototype', wrong({ mark: '__proto__' })],
    ['an unknown what', wrong({ what: 'ajar' })],
    ['an unknown how', wrong({ how: 'guessed' })],
  ])('%s: the ledger is the same object', (_name, bad) => {
    const ledger = apply(start, GOOD)
    expect(apply(ledger, bad as Entry)).toBe(ledger)
  })
  test.each<[string, object]>([
    ['an end of the interval that is no time', { how: 'queued', until: 'later' }],
    ['an interval that ends before it begins', { how: 'queued', until: time('17:00') }],
    ['sends that are text', { sends: '3' }],
    ['sends below 0', { sends: -3 }],
    ['sends without end', { sends: Number.POSITIVE_INFINITY }],
    ['null for every field that may be absent', { until: null, sends: null, boots: null, text: null, cell: null }],
    ['a boot count that is text', { boots: '7' }],
    ['a voltage that is none', { millivolts: Number.NaN }],
    ['a revision that is a number', { revision: 7 }],
  ])('%s: the word counts without it', (_name, fields) => {
    const reading = read(apply(start, wrong(fields)), NOW)[0]!
    expect(inShort(reading)).toBe('opened 18:00:00 1/1 []')
  })
  test('an odd word whose text is none', () => {
    expect(read(apply(start, wrong({ what: 'odd', text: 7 })), NOW)[0]!.odd).toMatchObject({ count: 1, text: '' })
  })
  test('a cell that is none', () => {
    expect(apply(start, wrong({ what: 'cell-fitted', cell: 7 })).marks.W01?.fold.cellType).toBe('CR2032')
  })
  test('whatever comes, nothing throws and a snapshot in JSON reads the same', () => {
    const anything = fc.oneof(fc.anything(), fc.constantFrom(time('18:00'), '', 'W01', null, -1, Number.NaN))
    const some = fc.record(
      {
        id: fc.oneof(fc.string(), anything),
        at: fc.oneof(fc.constantFrom(time('10:00'), time('18:00'), time('23:00')), anything),
        until: anything,
        mark: fc.oneof(fc.constantFrom('W01', 'D01', '__proto__', 'constructor'), anything),
        what: fc.oneof(fc.constantFrom(...WHATS), anything),
        how: fc.oneof(fc.constantFrom(...HOWS), anything),
        sends: anything,
        boots: anything,
        text: anything,
        by: anything,
        cell: anything,
        undoes: anything,
        millivolts: anything,
        revision: anything,
        linkLiveSeconds: anything,
      },
      { requiredKeys: ['id', 'at', 'mark', 'what', 'how'] },
    )
    fc.assert(
      fc.property(fc.array(some, { maxLength: 30 }), list => {
        const ledger = applyAll(start, list as Entry[])
        expect(read(JSON.parse(JSON.stringify(ledger)), NOW)).toEqual(read(ledger, NOW))
        expect(read(withPolicy(ledger, ledger.policy), NOW)).toEqual(read(ledger, NOW))
      }),
      { numRuns: 300 },
    )
  })
})

describe('through JSON', () => {
  test('a mark that takes over two others reads the same', () => {
    const before = ledgerOf('W01 17:00 opened L, W02 18:00 note L', { W01: COIN, W02: COIN })
    const policy = { W02: { ...COIN, was: ['W01'] } }
    const [direct, stored] = [before, JSON.parse(JSON.stringify(before))].map(one => withPolicy(one, policy))
    expect(inShort(read(direct!, NOW)[0]!)).toBe('opened 17:00:00 1/1 []')
    expect(read(stored!, NOW)).toEqual(read(direct!, NOW))
  })
})
