import { describe, expect, test } from 'vitest'
import { forecastOf } from '../../src/house/forecast.ts'
import { policyOf } from '../../src/house/policy.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'

const { register } = parseRegister(`house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, load: cold-join }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Press room, sender: coin }
  - { mark: W03, name: Attic studio, sender: coin }
`)
const DAY = 86_400_000
const START = Date.parse('2026-03-01T00:00:00.000Z')
const at = (day: number): string => new Date(START + day * DAY).toISOString()

interface Cell {
  readonly from?: number
  readonly rested?: number
  readonly volts?: (send: number) => number
  readonly join?: number
}

/** A cell fitted on a day, then so many openings, one a day. */
const lived = (mark: string, openings: number, { from = 0, rested, volts, join }: Cell = {}): Entry[] => [
  {
    id: `${mark}c${from}`,
    at: at(from),
    mark,
    what: 'cell-fitted',
    how: 'live',
    cell: { type: 'CR2032', ...(rested === undefined ? {} : { millivolts: rested }) },
  },
  ...Array.from(
    { length: openings },
    (_, i): Entry => ({
      id: `${mark}o${from + i}`,
      at: at(from + i + 1),
      mark,
      what: 'opened',
      how: 'live',
      ...(volts ? { millivolts: volts(i + 1) } : {}),
      ...(join === undefined ? {} : { joinMilliseconds: join }),
    }),
  ),
]
const died = (mark: string, day: number): Entry => ({
  id: `${mark}d${day}`,
  at: at(day),
  mark,
  what: 'failed',
  how: 'live',
})
const leftAt = (day: number, ...entries: Entry[]) => {
  const sorted = [...entries].sort((a, b) => a.at.localeCompare(b.at))
  return forecastOf(register!, applyAll(startLedger(policyOf(register!), at(0)), sorted), START + day * DAY)
}
const width = ({ p05, p95 }: { readonly p05: number; readonly p95: number }): number => p95 - p05

describe('what a contact measures', () => {
  test('a cell that falls fast has less left than one that falls slowly, both surer than without volts', () => {
    const left = leftAt(
      11,
      ...lived('W01', 10, { volts: send => 2500 - 14 * send }),
      ...lived('W02', 10, { volts: send => 2500 - 5 * send }),
      ...lived('W03', 10),
    )
    expect(left.W01!.p95).toBeLessThan(left.W03!.p50)
    expect(left.W02!.p50).toBeGreaterThan(left.W01!.p50 * 3)
    expect(width(left.W01!)).toBeLessThan(0.6 * width(left.W03!))
    // 2.3 V is where the model resets: no cell has died here yet
    expect(left.W01!.restsOn.volts).toBeCloseTo(2.3, 2)
    expect(left.W03!.restsOn).not.toHaveProperty('volts')
  })

  test('the module’s own end volts are learned from cells that died in it', () => {
    // It gave 10 sends of 12 mV each and died at 2.38 V, where the model says 2.3 V.
    const first = [...lived('W01', 10, { volts: send => 2500 - 12 * send }), died('W01', 11)]
    const second = lived('W01', 7, { from: 12, volts: send => 2500 - 12 * send })
    const learned = leftAt(20, ...first, ...second).W01!
    expect(learned.restsOn.volts).toBeGreaterThan(2.34)
    expect(learned.restsOn.volts).toBeLessThan(2.38)
    const alone = leftAt(8, ...lived('W01', 7, { volts: send => 2500 - 12 * send })).W01!
    expect(learned.p50).toBeLessThan(0.7 * alone.p50)
  })

  test('a module that measures at rest is not taken for one that measures under load', () => {
    const rests = leftAt(11, ...lived('W01', 10, { volts: send => 2990 - 4 * send })).W01!
    const plain = leftAt(11, ...lived('W01', 10)).W01!
    expect(rests).toEqual(plain)
  })

  test('3.02 V rested at fitting is not a new cell; 3.2 V and 3.16 V are', () => {
    const of = (rested: number) => leftAt(1, ...lived('W01', 0, { rested }), ...lived('W02', 0)).W01!
    const fresh = leftAt(1, ...lived('W01', 0), ...lived('W02', 0)).W01!
    expect(of(3200)).toEqual(fresh)
    expect(of(3160)).toEqual(fresh)
    // By the line from 3.2 V to 3.0 V nine tenths of its 20 sends are gone.
    expect(of(3020).p50).toBeLessThan(0.6 * fresh.p50)
    expect(of(3020).next).toBeLessThan(fresh.next)
    expect(of(3100).p50).toBeGreaterThan(of(3020).p50)
    expect(of(3100).p50).toBeLessThan(fresh.p50)
  })

  test('a module that joins slowly pays more for each opening, against the middle one of its kind', () => {
    const left = leftAt(
      4,
      ...lived('W01', 3, { join: 3600 }),
      ...lived('W02', 3, { join: 5400 }),
      ...lived('W03', 3, { join: 3600 }),
    )
    expect((left.W02!.p50 + 3) / (left.W01!.p50 + 3)).toBeCloseTo(3600 / 5400, 1)
    expect(left.W01!.p50).toBeCloseTo(left.W03!.p50, 6)
  })
})
