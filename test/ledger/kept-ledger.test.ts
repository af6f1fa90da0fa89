import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { applyAll, type Ledger, startLedger, WINDOW } from '../../src/ledger/apply.ts'
import { isLedger } from '../../src/ledger/kept-ledger.ts'
import { type Entry, HOWS } from '../../src/protocol/entry.ts'
import { WHATS } from '../../src/protocol/whats.ts'
import { COIN, DOOR, time } from './notation.ts'

const POLICY = { W01: COIN, W02: { ...COIN, was: ['W09'], takeAsClosedAfterMinutes: 30 }, D01: DOOR }
const START = Date.parse(time('00:00'))

const sometimes = <T>(value: fc.Arbitrary<T>) => fc.option(value, { nil: undefined })
const anEntry: fc.Arbitrary<Entry> = fc
  .record({
    id: fc.integer({ min: 0, max: 600 }).map(String),
    seconds: fc.integer({ min: 0, max: 86_400 }),
    mark: fc.constantFrom('W01', 'W02', 'W09', 'D01', 'X99'),
    what: fc.constantFrom(...WHATS),
    how: fc.constantFrom(...HOWS),
    boots: sometimes(fc.nat(50)),
    millivolts: sometimes(fc.integer({ min: 2000, max: 3300 })),
    joinMilliseconds: sometimes(fc.nat(5000)),
    linkLiveSeconds: sometimes(fc.nat(4000)),
    revision: sometimes(fc.constantFrom('0123abcd', '89abcdef')),
    text: sometimes(fc.constantFrom('heard', 'unheard', 'low', 'clock', 'bench', 'x'.repeat(300))),
    by: sometimes(fc.constantFrom('rosa', 'sashtally')),
    cell: sometimes(fc.constantFrom({ type: 'CR2032' }, { type: 'CR2450', batch: 'A', millivolts: 3200 })),
    sends: sometimes(fc.nat(4)),
    hasEnd: fc.boolean(),
  })
  .map(({ seconds, hasEnd, ...rest }) => {
    const given = Object.fromEntries(Object.entries(rest).filter(([, value]) => value !== undefined))
    const at = new Date(START + seconds * 1000).toISOString()
    const until = new Date(START + seconds * 1000 + 60_000).toISOString()
    return {
      ...given,
      at,
      // A word that came by a clock that cannot be right has no end.
      ...((rest.how === 'queued' && hasEnd) || rest.what === 'on-test' ? { until } : {}),
      ...(rest.what === 'undone' ? { undoes: rest.id } : {}),
    } as Entry
  })

describe('a ledger that was kept', () => {
  test('fits, whatever was counted, as it is and through JSON', () => {
    fc.assert(
      fc.property(fc.array(anEntry, { maxLength: 150 }), list => {
        const ledger = applyAll(startLedger(POLICY), list)
        for (const kept of [ledger, structuredClone(ledger), JSON.parse(JSON.stringify(ledger))]) {
          expect(isLedger(kept)).toBe(true)
        }
      }),
    )
  })

  const entries = fc
    .sample(anEntry, { numRuns: 4000, seed: 13 })
    .map((entry, index): Entry => ({ ...entry, id: `e${index}`, ...(entry.undoes ? { undoes: 'e1' } : {}) }))
  const whole: Ledger = JSON.parse(JSON.stringify(applyAll(startLedger(POLICY), entries)))

  test('holds every part that a ledger may have', () => {
    expect(isLedger(whole)).toBe(true)
    expect(whole.marks.W01!.window).toHaveLength(WINDOW)
    const folds = Object.values(whole.marks).flatMap(({ base, fold }) => [base, fold])
    const keys = new Set(folds.flatMap(fold => Object.keys(fold)))
    for (const key of [
      'onTest',
      'joins',
      'habit',
      'story',
      'line',
      'odd',
      'last',
      'loneRestAt',
      'unheardAt',
      'revision',
    ])
      expect(keys, key).toContain(key)
    expect(folds.some(({ past }) => past.length > 0)).toBe(true)
    expect(folds.some(({ sinceUntil }) => sinceUntil === null)).toBe(true)
    expect(folds.some(({ story }) => story?.latest.some(([, until]) => until === 'unknown'))).toBe(true)
  })

  const marks = Object.entries(whole.marks).map(([mark, state]) => [mark, { ...state, window: state.window.slice(-2) }])
  const short: Ledger = { ...whole, marks: Object.fromEntries(marks) }

  /** Every place in a value that holds a part, as a path; of a list only the first and the last. */
  function* places(value: unknown, path: readonly string[] = []): Generator<readonly string[]> {
    if (typeof value !== 'object' || value === null) return
    const keys = Object.keys(value)
    for (const key of Array.isArray(value) ? new Set([keys.at(0), keys.at(-1)]) : keys) {
      if (key === undefined) continue
      yield [...path, key]
      yield* places((value as Record<string, unknown>)[key], [...path, key])
    }
  }
  const spoilt = (path: readonly string[], by: unknown): unknown => {
    const copy = structuredClone(short)
    const last = path.at(-1)!
    const place = path.slice(0, -1).reduce<Record<string, unknown>>((at, key) => at[key] as typeof at, copy as never)
    place[last] = by
    return copy
  }

  test('fits no more once one part of it is of another kind, wherever that stands', () => {
    const missed: string[] = []
    let tried = 0
    for (const path of places(short)) {
      // The register's policy takes its place, and entries were sound when they were counted.
      if ((path[0] === 'policy' && path.length > 2) || (path.includes('window') && path.length > 5)) continue
      tried++
      // A function is of no kind that a store has.
      if (isLedger(spoilt(path, () => {}))) missed.push(path.join('.'))
    }
    expect(tried).toBeGreaterThan(300)
    expect(missed).toEqual([])
  })

  test.each([
    ['nothing', undefined],
    ['null', null],
    ['a text', 'ledger'],
    ['a list', [whole]],
    ['a later version', { ...whole, v: 2 }],
    ['a start that is no time', { ...whole, since: 'yesterday' }],
    ['a count below zero', { ...whole, count: -1 }],
    ['an entry that is none', spoilt(['marks', 'W01', 'window', '0', 'entry'], 'opened')],
    ['a habit of eleven months', spoilt(['marks', 'W01', 'fold', 'habit', 'months'], new Array(11).fill(0))],
  ])('is none: %s', (_, kept) => {
    expect(isLedger(kept)).toBe(false)
  })
})
