import fc from 'fast-check'
import { expect, test } from 'vitest'
import { forecastOf, leftOf } from '../../src/house/forecast.ts'
import { policyOf } from '../../src/house/policy.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import { read } from '../../src/ledger/read.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'

const START = Date.parse('2026-03-01T00:00:00.000Z')
const DAY = 86_400_000

const some = <T>(value: fc.Arbitrary<T>) => fc.option(value, { nil: undefined })
const edge = (least: number, most: number) =>
  fc.oneof(fc.constantFrom(least, most), fc.double({ min: least, max: most, noNaN: true }))
const phase = fc.record({
  milliamps: fc.oneof(edge(0, 10_000), edge(0, 200)),
  milliseconds: fc.oneof(edge(0.001, 3_600_000), edge(1, 10_000)),
  burst: fc.option(
    fc.record({ milliamps: edge(0, 400), milliseconds: edge(0.001, 100), everyMilliseconds: edge(0.001, 10_000) }),
    { nil: undefined },
  ),
})
const settings = fc.record({
  provenWithinDays: some(edge(0.01, 3660)),
  replaceBelow: some(edge(0.01, 0.99)),
  takeAsClosedAfterMinutes: some(edge(0.01, 525_600)),
  bounceSeconds: some(edge(0, 3600)),
  openingsPerYear: some(edge(0.01, 1_000_000)),
  openMinutes: some(edge(0, 525_600)),
  cold: fc.oneof(
    fc.record({ temperatureCelsius: some(edge(-30, 60)) }),
    fc.record({ seasonCelsius: fc.record({ january: edge(-30, 60), july: edge(-30, 60) }) }),
  ),
  lampMilliamps: some(edge(0, 100)),
  resetVolts: some(edge(0.01, 5)),
  repeatSeconds: some(edge(1, 604_800)),
  cell: fc.constantFrom('CR2032', 'CR2450', 'CR123A', 'two FR03', 'two LR03', 'XY99'),
  load: fc.oneof(
    fc.constantFrom('cold-join', 'cached-join', 'fast-join'),
    fc.array(phase, { minLength: 1, maxLength: 3 }),
  ),
  reports: fc.constantFrom('openings', 'both'),
  keepAliveSeconds: fc.integer({ min: 1, max: 600 }),
})
const tries = fc.array(
  fc.record({ days: edge(0, 400), what: fc.constantFrom('opened', 'rest', 'failed', 'cell-fitted', 'closed') }),
  {
    maxLength: 30,
  },
)

test('any register that is fine can be counted, read and forecast', () => {
  let fine = 0
  fc.assert(
    fc.property(settings, tries, (chosen, entries) => {
      const { reports, cell, load, keepAliveSeconds, cold, ...rest } = chosen
      const more = { ...rest, ...cold }
      const words = reports === 'both' ? { opened: 'o', closed: 'c', gone: 'g' } : { opened: 'o', rest: 'r' }
      const given = Object.fromEntries(Object.entries(more).filter(([, value]) => value !== undefined))
      const text = JSON.stringify({
        house: 'Ropewalk Studios',
        timezone: 'Europe/Lisbon',
        tally: 'ropewalk/tally',
        senders: { coin: { reports, cell, load, keepAliveSeconds, words, ...given } },
        openings: [
          { mark: 'W01', name: 'Dye room', sender: 'coin', cellFitted: '2025-01-01' },
          { mark: 'W02', name: 'Shop', sender: 'coin' },
        ],
      })
      const { register } = parseRegister(text)
      if (!register) return
      fine++
      const list = entries.map(({ days, what }, i): Entry => {
        return {
          id: `e${i}`,
          at: new Date(START + Math.floor(days * DAY)).toISOString(),
          mark: 'W01',
          what: what as Entry['what'],
          how: 'live',
        }
      })
      const ledger = applyAll(startLedger(policyOf(register), new Date(START).toISOString()), list)
      const now = START + 400 * DAY
      for (const reading of read(ledger, now, undefined, leftOf(register, ledger, now))) {
        if (!reading.left) continue
        const { p05, p50, p95, next } = reading.left
        expect([p05, p50, p95, next].every(Number.isFinite)).toBe(true)
        expect(p05).toBeLessThanOrEqual(p50)
        expect(p50).toBeLessThanOrEqual(p95)
        expect(next).toBeGreaterThanOrEqual(0)
        expect(next).toBeLessThanOrEqual(1)
      }
      forecastOf(register, ledger, now)
    }),
    // A failing case is told as it is found: shrinking it takes a forecast for each of thousands of steps.
    { numRuns: 150, endOnFailure: true },
  )
  expect(fine).toBeGreaterThan(60)
})
