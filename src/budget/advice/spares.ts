import { logGamma } from '../lives/special-functions.ts'
import { must } from '../must.ts'

/** What is believed of the share of good parts: as if so many good and bad ones had been seen. */
export interface PartsSeen {
  readonly good: number
  readonly bad: number
}

/** About 1 module in 10 refuses to start from the cell (common practice, from few modules), weighing as twenty (assumption). */
export const MODULES_IN_PRACTICE: PartsSeen = { good: 18, bad: 2 }

const logChoose = (n: number, k: number): number => logGamma(n + 1) - logGamma(k + 1) - logGamma(n - k + 1)
const logBeta = (a: number, b: number): number => logGamma(a) + logGamma(b) - logGamma(a + b)

/** Chance of exactly `bad` bad parts among `bought`: beta-binomial. */
export const badChance = (bad: number, bought: number, { good: g, bad: b }: PartsSeen): number =>
  Math.exp(logChoose(bought, bad) + logBeta(bad + b, bought - bad + g) - logBeta(b, g))

/** Chance that at least `need` of `bought` are good. */
export function enoughChance(need: number, bought: number, seen: PartsSeen): number {
  if (need <= 0) return 1
  let sum = 0
  for (let bad = 0; bad <= bought - need; bad++) sum += badChance(bad, bought, seen)
  return Math.min(1, sum)
}

/**
 * Fewest parts to buy so that enough of them are good.
 * @param need - good parts wanted, 0 or more
 * @param seen - good and bad parts seen, the prior included; both above 0
 * @param confidence - chance that it suffices, above 0 and below 1
 * @throws RangeError that names the argument and the value; also where no number up to 100 times the need suffices
 */
export function buyEnough(need: number, seen: PartsSeen, confidence: number): number {
  must(Number.isSafeInteger(need) && need >= 0 && need <= 10_000, 'need', need, 'a whole number from 0 to 10,000')
  must(seen.good > 0 && seen.good < Infinity, 'seen.good', seen.good, 'above 0')
  must(seen.bad > 0 && seen.bad < Infinity, 'seen.bad', seen.bad, 'above 0')
  must(confidence > 0 && confidence < 1, 'confidence', confidence, 'between 0 and 1')
  if (need === 0) return 0
  const most = 100 * need
  let low = need
  let high = need
  while (enoughChance(need, high, seen) < confidence) {
    if (high >= most) throw new RangeError(`no purchase up to ${most} parts suffices: too many of those seen were bad`)
    low = high + 1
    high = Math.min(most, 2 * high)
  }
  while (low < high) {
    const middle = Math.floor((low + high) / 2)
    if (enoughChance(need, middle, seen) < confidence) low = middle + 1
    else high = middle
  }
  return high
}
