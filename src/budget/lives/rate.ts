import { DAYS_IN_YEAR } from '../../text/time.ts'
import { gammaLower, gammaQuantile } from './special-functions.ts'

/** What is known of how often something is opened. */
export interface RateInput {
  /** A person's guess; counts as much as two openings seen. */
  readonly openingsPerYear?: number
  /** Sends counted, tests left out. */
  readonly observedOpenings: number
  /** Days up to the last word or proof: the silence since may be that of a dead contact. */
  readonly observedDays: number
}

/** A gamma distribution over openings a year: `openings` seen in `years`, the guess included. */
export interface Rate {
  readonly openings: number
  readonly years: number
}

/** A guess weighs as two openings: 90 % of it within 0.18 to 2.4 times. Assumption. */
const GUESS_WEIGHT = 2
/**
 * Without a guess no shorter time than this is taken as observed: a contact is tried out when it is fitted, which says
 * little of how often the window will be opened. Assumption.
 */
const FEWEST_DAYS = 14
/** Jeffreys' prior of a Poisson rate (Jeffreys 1961) where nobody guessed. */
const JEFFREYS = 0.5

/**
 * Gamma-Poisson estimate of a rate.
 * @returns undefined when nothing is known: no guess and no time observed
 * @throws RangeError when a figure is negative or not finite
 */
export function rateOf(input: RateInput): Rate | undefined {
  const { openingsPerYear: guess, observedOpenings, observedDays } = input
  check('openingsPerYear', guess ?? 0)
  check('observedOpenings', observedOpenings)
  check('observedDays', observedDays)
  const years = observedDays / DAYS_IN_YEAR
  if (guess !== undefined && guess > 0) {
    return { openings: GUESS_WEIGHT + observedOpenings, years: GUESS_WEIGHT / guess + years }
  }
  if (years === 0) return undefined
  return { openings: JEFFREYS + observedOpenings, years: Math.max(years, FEWEST_DAYS / DAYS_IN_YEAR) }
}

function check(name: string, value: number): void {
  if (!(value >= 0 && value < Infinity)) throw new RangeError(`${name} must be 0 or more and finite, not ${value}`)
}

/** Mean openings a year. */
export const meanRate = (rate: Rate): number => rate.openings / rate.years

/** Openings a year that are exceeded with chance 1 - p. */
export const rateQuantile = (rate: Rate, p: number): number => gammaQuantile(p, rate.openings) / rate.years

/** Chance of no opening in so many days, the rate being uncertain. */
export const silenceChance = (rate: Rate, days: number): number =>
  (rate.years / (rate.years + days / DAYS_IN_YEAR)) ** rate.openings

/**
 * Days of silence that a working contact of this rate stays under with the given chance.
 * Beyond the 99 % point nobody knows whether it still runs.
 */
export const silencePoint = (rate: Rate, chance = 0.99): number =>
  rate.years * DAYS_IN_YEAR * ((1 - chance) ** (-1 / rate.openings) - 1)

/**
 * Whether a contact has been silent beyond the given point of its own rate. Its silence says nothing of how often it
 * is opened, for a dead contact is silent too: give the time observed up to its last word or proof only.
 * @param quietDays - since then
 */
export function isSilentBeyond(upToLastWord: RateInput, quietDays: number, chance = 0.99): boolean {
  const rate = rateOf(upToLastWord)
  return rate !== undefined && quietDays > silencePoint(rate, chance)
}

/**
 * Chances of 0, 1, 2 … openings in a time: negative binomial.
 * @param count - how many chances are wanted
 * @returns undefined when the first would be too small to start from (a well-known rate over a long time)
 */
export function openingChances(rate: Rate, days: number, count: number): number[] | undefined {
  const years = days / DAYS_IN_YEAR
  const first = rate.openings * Math.log(rate.years / (rate.years + years))
  if (first < -700) return undefined
  const share = years / (rate.years + years)
  const chances = [Math.exp(first)]
  for (let n = 1; n < count; n++) chances.push((chances[n - 1]! * share * (rate.openings + n - 1)) / n)
  return chances
}

/** Chance of at most `most` events when `mean` are expected: Poisson. DLMF 8.4.10 ties it to P(a, x). */
export const poissonCdf = (most: number, mean: number): number => 1 - gammaLower(Math.floor(most) + 1, mean)
