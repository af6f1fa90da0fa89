import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { apply, applyAll, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import { type Entry, KEEPER_NAME } from '../../src/protocol/entry.ts'
import type { Policy } from '../../src/protocol/policy.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import { COIN } from './notation.ts'

/** How one word of a contact comes: a boot that is `lost` never, and a copy of it later. */
interface Delivery {
  readonly lost: boolean
  /** Places behind its own. */
  readonly late: number
  readonly copy: { readonly late: number; readonly marked: boolean } | undefined
}

interface Came {
  readonly boots: number
  readonly isCopy: boolean
  readonly marked: boolean
}

const MOST_LATE = 30
const lateness = fc.oneof({ weight: 3, arbitrary: fc.constant(0) }, fc.integer({ min: 0, max: MOST_LATE }))
const deliveries = (copies: fc.Arbitrary<boolean>) =>
  fc.array(
    fc.record({
      lost: fc.integer({ min: 0, max: 9 }).map(one => one === 0),
      late: lateness,
      copy: fc.option(fc.record({ late: fc.integer({ min: 1, max: MOST_LATE }), marked: copies }), { nil: undefined }),
    }),
    { minLength: 1, maxLength: 60 },
  )

/** The order in which the words come, of a counter that stands at `first` at the beginning. */
function orderOf(first: number, all: readonly Delivery[]): Came[] {
  const placed = all.flatMap(({ lost, late, copy }, index) => {
    if (lost) return []
    const boots = first + index
    const own = { place: index + late, came: { boots, isCopy: false, marked: false } }
    return copy ? [own, { place: own.place + copy.late, came: { boots, isCopy: true, marked: copy.marked } }] : [own]
  })
  return placed.sort((a, b) => a.place - b.place || a.came.boots - b.came.boots).map(({ came }) => came)
}

const START = Date.parse('2026-06-01T08:00:00Z')
/** Words stand farther apart than a bounce. */
const APART = 31_000
const at = (n: number): string => new Date(START + n * APART).toISOString()

const entryOf = ({ boots, marked }: Came, n: number, what: Entry['what'] = 'opened'): Entry => ({
  ...{ id: `e${n}`, at: at(n), mark: 'W01', what, how: 'live', boots },
  ...(marked ? { maybeAgain: true as const } : {}),
})

const readingOf = (entries: readonly Entry[], policy: Policy = COIN): Reading =>
  read(applyAll(startLedger({ W01: policy }, at(-1)), entries), START + entries.length * APART)[0]!

describe('words of one contact that come late or twice', () => {
  it('are each one send, also those that were passed unheard, whatever the order', () => {
    fc.assert(
      fc.property(fc.nat(5_000), deliveries(fc.constant(true)), (first, all) => {
        const order = orderOf(first, all)
        const heard = new Set<number>()
        let ledger = startLedger({ W01: COIN }, at(-1))
        for (const [n, came] of order.entries()) {
          heard.add(came.boots)
          ledger = apply(ledger, entryOf(came, n))
          const { sends, openings } = read(ledger, START + n * APART)[0]!
          // Of what was sent before the first word that came, what was heard is known.
          const below = [...heard].filter(boots => boots < order[0]!.boots).length
          expect(sends).toBe(Math.max(...heard) - order[0]!.boots + 1 + below)
          expect(openings).toBe(heard.size)
        }
      }),
    )
  })

  it('cost one send each at most where nobody marked that they came twice', () => {
    fc.assert(
      fc.property(fc.nat(5_000), deliveries(fc.boolean()), (first, all) => {
        const order = orderOf(first, all)
        fc.pre(order.length > 0)
        const heard = new Set(order.map(({ boots }) => boots))
        const unmarked = order.filter(({ isCopy, marked }) => isCopy && !marked).length
        const { sends } = readingOf(order.map((one, n) => entryOf(one, n)))
        expect(sends).toBeGreaterThanOrEqual(heard.size)
        expect(sends).toBeLessThanOrEqual(Math.max(...heard) - Math.min(...heard) + 1 + unmarked)
      }),
    )
  })

  it('never close what a later word opened', () => {
    const edges: Policy = { ...COIN, reports: 'both' }
    fc.assert(
      fc.property(fc.nat(5_000), deliveries(fc.boolean()), (first, all) => {
        const order = orderOf(first, all)
        const { position } = readingOf(
          order.map((one, n) => entryOf(one, n, one.boots % 2 === 0 ? 'opened' : 'closed')),
          edges,
        )
        const last = Math.max(...order.map(({ boots }) => boots))
        if (order.length > 0 && last % 2 === 0) expect(position).toBe('open')
      }),
    )
  })

  it('leave a counter that began anew later what it is', () => {
    fc.assert(
      fc.property(
        fc.nat(5_000),
        deliveries(fc.constant(true)),
        fc.nat(5_000),
        fc.array(fc.integer({ min: 1, max: 9 }), { maxLength: 40 }),
        (first, all, anew, steps) => {
          const before = orderOf(first, all)
          fc.pre(before.length > 0)
          const last = Math.max(...before.map(({ boots }) => boots))
          let count = anew
          const counts = [anew, ...steps.map(step => (count += step))]
          // A count that passes the last one is a gap, as it always was.
          fc.pre(anew > last + 1_000 || counts.slice(0, 2).every(boots => boots < last))
          const old = before.map((one, n) => entryOf(one, n))
          const hours = (n: number) => new Date(START + (before.length + 60 * n) * APART).toISOString()
          const more = counts.map((boots, n): Entry => {
            return { id: `n${n}`, at: hours(n + 1), mark: 'W01', what: 'opened', how: 'live', boots }
          })
          expect(readingOf([...old, ...more]).sends).toBe(readingOf(old).sends + 1 + counts.at(-1)! - anew)
        },
      ),
    )
  })

  const word = (time: string, boots: number, what: Entry['what'] = 'opened'): Entry => {
    const at = new Date(`2026-06-${time}Z`).toISOString()
    return { id: `${what} ${at}`, at, mark: 'W01', what, how: 'live', boots }
  }
  const said = (time: string, what: Entry['what'], text?: string): Entry => {
    const at = new Date(`2026-06-${time}Z`).toISOString()
    return { id: `${what} ${at}`, at, mark: 'W01', what, how: 'live', ...(text ? { text, by: KEEPER_NAME } : {}) }
  }
  const EDGES: Policy = { ...COIN, reports: 'both' }

  it('a copy that nobody marked, an hour later, counts no gap twice', () => {
    const boots = Array.from({ length: 150 }, (_, n) =>
      word(`01T0${Math.floor(n / 60)}:${String(n % 60).padStart(2, '0')}`, n + 1),
    )
    const sends = (...more: Entry[]) => readingOf([...boots, ...more]).sends
    expect(sends(word('01T03:41', 10))).toBe(151)
    expect(sends(word('01T03:41', 10), word('01T04:00', 157))).toBe(158)
  })

  it('a flashed module counts from its first word, and closes what it opened', () => {
    const flashed = [word('01T08:00', 20), word('01T08:01', 21, 'closed'), said('01T08:02', 'flashed')]
    const reading = readingOf([...flashed, word('01T08:04', 1), word('01T08:05', 2, 'closed')], EDGES)
    expect(reading.position).toBe('closed')
  })

  it('prove nothing of a contact that has told more since', () => {
    const gap = [word('01T08:00', 5, 'closed'), word('01T08:30', 8, 'closed'), said('01T08:31', 'note', 'unheard')]
    const doubtful = (...more: Entry[]) => readingOf([...gap, ...more], EDGES).unheard
    expect(doubtful()).toBeDefined()
    expect(doubtful(word('01T08:32', 7, 'closed'))).toBe(doubtful())
    const silent = (...more: Entry[]) =>
      readingOf([...gap.slice(0, 2), said('01T08:31', 'gone'), ...more], EDGES).doubts
    expect(silent()).toContain('silent')
    expect(silent(word('01T08:32', 7, 'closed'))).toContain('silent')
    expect(silent(word('01T08:32', 9, 'closed'))).not.toContain('silent')
  })

  it('that may have come twice make no door surely shut that was opened meanwhile', () => {
    const door = { ...EDGES, power: 'mains' as const }
    const edge = (time: string, what: 'opened' | 'closed', more: Partial<Entry> = {}): Entry => {
      const { boots: _, ...entry } = word(time, 1, what)
      return { ...entry, ...more }
    }
    const day = [edge('01T08:00', 'closed'), edge('01T08:01', 'opened')]
    const again = edge('01T08:02', 'closed', { maybeAgain: true })
    const { position, unheard } = readingOf([...day, again], door)
    expect(position).toBe('closed')
    expect(unheard).toBe('2026-06-01T08:02:00.000Z')
    expect(readingOf([...day, edge('01T08:02', 'closed')], door).unheard).toBeUndefined()
    expect(readingOf([...day, again, said('01T08:03', 'seen-closed')], door).unheard).toBeUndefined()
  })
})
