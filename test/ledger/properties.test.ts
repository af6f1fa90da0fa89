import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { apply, applyAll, type Ledger, startLedger, WINDOW } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import { type Entry, HOWS } from '../../src/protocol/entry.ts'
import type { HousePolicy } from '../../src/protocol/policy.ts'
import { WHATS } from '../../src/protocol/whats.ts'
import { COIN, DOOR, time } from './notation.ts'

const POLICY: HousePolicy = {
  W01: COIN,
  W02: { ...COIN, repeatSeconds: 600 },
  W03: { ...COIN, takeAsClosedAfterMinutes: 30, modelSends: 20 },
  D01: DOOR,
}
const START = Date.parse(time('00:00'))
const NOW = START + 3 * 86_400_000

const anEntry: fc.Arbitrary<Entry> = fc
  .record({
    id: fc.integer({ min: 0, max: 400 }).map(String),
    seconds: fc.oneof(fc.integer({ min: 0, max: 120 }), fc.integer({ min: 0, max: 2 * 86_400 })),
    wait: fc.option(fc.integer({ min: 0, max: 4000 }), { nil: undefined }),
    mark: fc.constantFrom('W01', 'W02', 'W03', 'D01', 'X99'),
    what: fc.constantFrom(...WHATS),
    how: fc.constantFrom(...HOWS),
    boots: fc.option(fc.integer({ min: 0, max: 50 }), { nil: undefined }),
    undoes: fc.integer({ min: 0, max: 400 }).map(String),
  })
  .map(({ id, seconds, wait, mark, what, how, boots, undoes }) => ({
    id: `${mark}-${id}`,
    at: new Date(START + seconds * 1000).toISOString(),
    ...(how === 'queued' ? { until: new Date(START + (seconds + (wait ?? 0)) * 1000).toISOString() } : {}),
    mark,
    what,
    how,
    ...(boots === undefined ? {} : { boots }),
    ...(what === 'undone' ? { undoes: `${mark}-${undoes}` } : {}),
    ...(wait === undefined ? {} : { linkLiveSeconds: wait }),
  }))
const someEntries = fc.array(anEntry, { maxLength: 120 })
const of = (list: readonly Entry[]): Ledger => applyAll(startLedger(POLICY, time('00:00')), list)

describe('the ledger', () => {
  test('replay equals live, through a snapshot in JSON at any point', () => {
    fc.assert(
      fc.property(someEntries, fc.nat(), (list, cut) => {
        const half = list.slice(0, cut % (list.length + 1))
        const snapshot: Ledger = JSON.parse(JSON.stringify(of(half)))
        const resumed = applyAll(snapshot, list.slice(half.length))
        expect(read(resumed, NOW)).toEqual(read(of(list), NOW))
        expect(JSON.parse(JSON.stringify(resumed))).toEqual(JSON.parse(JSON.stringify(of(list))))
      }),
    )
  })
  test('a duplicate changes nothing and hands the same object back', () => {
    fc.assert(
      fc.property(someEntries, fc.nat(), (list, pick) => {
        const ledger = of(list)
        const again = list[pick % Math.max(1, list.length)]
        if (again) expect(apply(ledger, again)).toBe(ledger)
      }),
    )
  })
  test('a retained copy never counts and never spends', () => {
    fc.assert(
      fc.property(someEntries, anEntry, (list, one) => {
        const ledger = of(list)
        const retained: Entry = { ...one, id: 'new', how: 'retained' }
        const words = ['opened', 'rest', 'closed', 'gone', 'odd']
        fc.pre(words.includes(one.what))
        const counts = (from: Ledger) => read(from, NOW).map(({ openings, sends }) => [openings, sends])
        expect(counts(apply(ledger, retained))).toEqual(counts(ledger))
      }),
    )
  })
  test('an entry that is said later gives the reading it would have given in time', () => {
    const clock = fc.uniqueArray(fc.integer({ min: 0, max: 86_000 }), { minLength: 2, maxLength: 40 })
    const what = fc.constantFrom('opened', 'rest', 'seen-closed', 'cell-fitted', 'proved', 'failed')
    fc.assert(
      fc.property(clock, fc.infiniteStream(what), fc.nat(), (seconds, whats, pick) => {
        const list: Entry[] = [...seconds]
          .sort((a, b) => a - b)
          .map((second, index) => {
            const kind = whats.next().value as Entry['what']
            const how = kind === 'opened' || kind === 'rest' ? 'live' : 'said'
            return { id: `e${index}`, at: new Date(START + second * 1000).toISOString(), mark: 'W01', what: kind, how }
          })
        const late = list.filter(one => one.how === 'said')[
          pick % Math.max(1, list.filter(one => one.how === 'said').length)
        ]
        fc.pre(late !== undefined)
        const outOfTurn = [...list.filter(one => one !== late), late!]
        expect(read(of(outOfTurn), NOW)[0]).toEqual(read(of(list), NOW)[0])
      }),
    )
  })
  test('the window forgets entries, never counts', () => {
    fc.assert(
      fc.property(fc.integer({ min: WINDOW, max: 3 * WINDOW }), count => {
        const list = Array.from({ length: count }, (_, i): Entry => {
          return {
            id: `e${i}`,
            at: new Date(START + i * 60_000).toISOString(),
            mark: 'W01',
            what: 'opened',
            how: 'live',
          }
        })
        expect(read(of(list), NOW)[0]).toMatchObject({ openings: count, sends: count })
        expect(of(list).marks.W01!.window.length).toBe(WINDOW)
      }),
      { numRuns: 10 },
    )
  })
  test('no entry ever makes a window closed but a person’s look or a reported edge', () => {
    fc.assert(
      fc.property(someEntries, list => {
        const looked = new Set(
          list.filter(one => one.what === 'seen-closed' || one.what === 'closed').map(one => one.mark),
        )
        for (const { mark, position } of read(of(list), NOW)) if (!looked.has(mark)) expect(position).not.toBe('closed')
      }),
    )
  })
})
