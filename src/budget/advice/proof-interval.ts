import { DAYS_IN_YEAR } from '../../text/time.ts'
import { mustBeObject } from '../check.ts'
import { meanRate, type RateInput, rateOf, silenceChance } from '../lives/rate.ts'
import { gammaQuantile } from '../lives/special-functions.ts'

export interface ProofInput extends RateInput {
  /** Days that a dead contact may stay unnoticed. */
  readonly acceptDays: number
  /** Sends that a new cell gives, e.g. the median of its forecast. */
  readonly sendsPerCell: number
  /** Sends that one opening costs, a natural one or a test that gets through at once; default 1. */
  readonly sendsPerOpening?: number
  /** Days without proof after which the contact counts as untested. */
  readonly provenWithinDays: number
}

export interface ProofInterval {
  /** Test when so many days have passed since the last word that got through, a natural one included. */
  readonly everyDays: number
  /** Tests a year under that rule, and if they were made by the calendar whatever was heard. */
  readonly testsPerYear: number
  readonly calendarTestsPerYear: number
  /** Share of the cell's sends that go into tests, 0 to 1. */
  readonly testShare: number
  /** Cells a year with the tests, and what the tests add. */
  readonly cellsPerYear: number
  readonly extraCellsPerYear: number
  /** Days for which a death stays unnoticed on average; never above `acceptDays`. */
  readonly meanUnnoticedDays: number
  /** Chance that `provenWithinDays` after a proof bring no natural one. */
  readonly untestedChance: number
  /**
   * Days from a proof until a gap of `provenWithinDays` is to be expected, at the mean rate and without tests.
   * Absent beyond ten years.
   */
  readonly untestedAfterDays?: number
}

const RATE_POINTS = 16

const known = new Map<number, readonly number[]>()

/** Quantiles of a gamma distribution: contacts that were opened as often share them, whatever the time it took. */
function timesSeen(openings: number): readonly number[] {
  const found =
    known.get(openings) ??
    Array.from({ length: RATE_POINTS }, (_, i) => gammaQuantile((i + 0.5) / RATE_POINTS, openings))
  if (known.size > 1000) known.clear()
  known.set(openings, found)
  return found
}

/**
 * How often to test one contact.
 *
 * A dead contact and an unopened window are both silent, so only a word that gets through proves anything, and every
 * natural opening that does restarts the clock. Waiting longer than `acceptDays` after the last proof leaves room for
 * an opening right after it that failed; testing sooner spends sends for nothing. So the longest interval that keeps
 * the promise is `acceptDays` itself, counted from the last proof, and it is also the cheapest.
 *
 * Openings are taken as a Poisson stream of uncertain rate; with none known, every test falls due.
 * A proof comes after min(first opening, acceptDays): mean (1 - exp(-r d)) / r, a test with chance exp(-r d).
 * @throws RangeError when a figure is out of its range
 * @see Barlow & Proschan 1965, Mathematical Theory of Reliability, ch. 4 (inspection policies), from memory
 */
export function proofInterval(input: ProofInput): ProofInterval {
  mustBeObject('input', input, 'an object')
  const { acceptDays, sendsPerCell, sendsPerOpening = 1, provenWithinDays } = input
  for (const [name, value] of Object.entries({ acceptDays, sendsPerCell, sendsPerOpening, provenWithinDays })) {
    if (!(value > 0 && value < Infinity)) throw new RangeError(`${name} must be above 0 and finite, not ${value}`)
  }
  const rate = rateOf(input)
  const rates = rate ? timesSeen(rate.openings).map(times => times / rate.years / DAYS_IN_YEAR) : [0]
  let tests = 0
  let sends = 0
  let unnoticed = 0
  for (const perDay of rates) {
    const share = 1 / rates.length
    const expected = perDay * acceptDays
    const cycle = expected < 1e-9 ? acceptDays : -Math.expm1(-expected) / perDay
    const testsPerDay = Math.exp(-expected) / cycle
    tests += share * testsPerDay * DAYS_IN_YEAR
    sends += share * (perDay + testsPerDay) * sendsPerOpening * DAYS_IN_YEAR
    unnoticed += share * (acceptDays - cycle)
  }
  const meanPerDay = rate ? meanRate(rate) / DAYS_IN_YEAR : 0
  const gap = meanPerDay > 0 ? Math.expm1(meanPerDay * provenWithinDays) / meanPerDay : provenWithinDays
  return {
    everyDays: acceptDays,
    testsPerYear: tests,
    calendarTestsPerYear: DAYS_IN_YEAR / acceptDays,
    testShare: (tests * sendsPerOpening) / sends,
    cellsPerYear: sends / sendsPerCell,
    extraCellsPerYear: (tests * sendsPerOpening) / sendsPerCell,
    meanUnnoticedDays: Math.max(0, unnoticed),
    untestedChance: rate ? silenceChance(rate, provenWithinDays) : 1,
    ...(gap < 10 * DAYS_IN_YEAR ? { untestedAfterDays: gap } : {}),
  }
}
