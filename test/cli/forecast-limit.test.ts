import { describe, expect, test } from 'vitest'
import { changeDate } from '../../src/budget/lives/figures.ts'
import { NO_SEASON } from '../../src/budget/lives/season.ts'
import { type LimitInput, limitOf } from '../../src/cli/cells/forecast-limit.ts'
import { DAY, DAYS_IN_YEAR } from '../../src/text/time.ts'
import { gauss, seeded } from '../budget/random.ts'

const NOW = Date.parse('2026-11-25T12:00:00Z')
const YEAR = DAYS_IN_YEAR * DAY
/** Counted for two years: 60 a year. */
const COUNTED = { observedOpenings: 120, observedDays: 2 * DAYS_IN_YEAR }
const LEFT = {
  left: { p05: 6, p50: 20, p95: 66 },
  ...{ p05: 6, p50: 20, p95: 66, alive: 1, next: 0.97, untilLow: 12, countOn: 9, changeBy: NOW + 0.2 * YEAR },
  restsOn: { source: 'house', cells: 9, deaths: 3 },
} as const
const given = (more: Partial<LimitInput> = {}): LimitInput => ({
  ...{ rate: COUNTED, season: NO_SEASON, left: LEFT, fittedAt: NOW - YEAR, now: NOW },
  ...more,
})

test('the day of so many openings has the range of the F distribution', () => {
  // A guess of 60 a year weighs as 2 openings in 1/30 of a year: the time of 10 openings is 10/2 F(20, 4) of that.
  // F(20, 4): 5.803 is passed by one in twenty, and F(4, 20): 2.866, so 1/2.866 is not reached by one in twenty
  // (NIST/SEMATECH e-Handbook 1.3.6.7.3, upper critical values of the F distribution; both values from memory).
  const rate = { openings: 2, years: 1 / 30 }
  const days = (chance: number) =>
    (changeDate({ rate, season: NO_SEASON, openings: 10, now: NOW, chance })! - NOW) / DAY
  expect(days(0.95)).toBeCloseTo((5 * 5.803 * DAYS_IN_YEAR) / 30, 0)
  expect(days(0.05)).toBeCloseTo((5 * DAYS_IN_YEAR) / 2.866 / 30, 0)
})

test('a rate that is well known leaves the day only the chance of the openings themselves', () => {
  // By hand, 600 openings at 6,000 a year, known to 1 %: a tenth of a year, 1/sqrt(600) and 1 % of it either way.
  const rate = { openings: 10_000, years: 10_000 / 6_000 }
  const days = (chance: number) =>
    (changeDate({ rate, season: NO_SEASON, openings: 600, now: NOW, chance })! - NOW) / DAY
  expect(days(0.5)).toBeCloseTo(DAYS_IN_YEAR / 10, 0)
  expect(days(0.05)).toBeLessThan(days(0.5))
  expect(days(0.95)).toBeGreaterThan(days(0.5))
})

describe('what ends a cell', () => {
  test('low: the day of the reading, and how sooner or later it may be', () => {
    const limit = limitOf(given())
    expect(limit).toMatchObject({ end: 'low', by: LEFT.changeBy })
    if (limit?.end !== 'low') throw new Error('low was expected')
    expect(limit.from).toBeLessThan(limit.by)
    expect(limit.to).toBeGreaterThan(limit.by)
  })

  test('empty, where no opening is less sure than the last: nine times in ten between both ends, by simulation', () => {
    const limit = limitOf(given({ left: { ...LEFT, neverLow: true, changeBy: NOW + 10 * YEAR } }))
    if (limit?.end !== 'empty') throw new Error('empty was expected')
    const random = seeded(19)
    // Log-normal with the quantiles above; a rate of 60 a year known to 1/sqrt(120); openings at random times.
    const ends = Array.from({ length: 4_000 }, () => {
      const openings = Math.ceil(20 * Math.exp((Math.log(66 / 20) / 1.645) * gauss(random)))
      const perYear = 60 * Math.exp(gauss(random) / Math.sqrt(120))
      let years = 0
      for (let n = 0; n < openings; n++) years -= Math.log(1 - random()) / perYear
      return NOW + years * YEAR
    })
    const share = (before: number) => ends.filter(end => end < before).length / ends.length
    expect(share(limit.from)).toBeGreaterThan(0.02)
    expect(share(limit.from)).toBeLessThan(0.08)
    expect(share(limit.by)).toBeGreaterThan(0.44)
    expect(share(limit.by)).toBeLessThan(0.56)
    expect(share(limit.to!)).toBeGreaterThan(0.92)
    expect(share(limit.to!)).toBeLessThan(0.98)
  })

  test('a cell that may be dead already may end now; of a model that is a lower bound nobody knows the later end', () => {
    const left = { ...LEFT, left: { p05: 0, p50: 9, p95: 40 }, neverLow: true as const }
    expect(limitOf(given({ left }))).toMatchObject({ end: 'empty', from: NOW })
    expect(limitOf(given({ left: { ...LEFT, atLeast: true } }))).not.toHaveProperty('to')
  })

  test('its shelf life, ten years from its fitting, where that is sooner; told with what it comes before', () => {
    const seldom = { observedOpenings: 0, observedDays: 3 * DAYS_IN_YEAR }
    const changeBy = NOW + 10 * YEAR
    const fittedAt = NOW - 4 * YEAR
    expect(limitOf(given({ rate: seldom, fittedAt, left: { ...LEFT, changeBy } }))).toMatchObject({
      end: 'shelf',
      by: NOW + 6 * YEAR,
      before: { end: 'low' },
    })
    expect(limitOf(given({ fittedAt: NOW - 12 * YEAR }))).toMatchObject({ end: 'shelf', by: NOW })
    // The fitting is not known: from now on, at the longest.
    const unknown = given({ rate: seldom, fittedAt: undefined, left: { ...LEFT, changeBy } })
    expect(limitOf(unknown)).toMatchObject({ end: 'shelf', by: NOW + 10 * YEAR })
  })

  test('nothing where nobody knows how often it is opened', () => {
    const { changeBy: _, ...left } = LEFT
    expect(limitOf(given({ left }))).toBeUndefined()
  })
})
