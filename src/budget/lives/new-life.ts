import type { Range } from '../types.ts'
import { lifeLeft } from './forecast.ts'

/** Sends at which the shares are worked out; a Weibull life scales with its median. */
const SENDS = 20

const shares = new Map<boolean, Range>()

function sharesOf(countKnown: boolean): Range {
  const left = lifeLeft({ modelMedian: SENDS, countKnown, sends: 0, history: [], replaceBelow: 0.9 })
  const share = (p: number): number => left.quantile(p) / SENDS
  return { p05: share(0.05), p50: share(0.5), p95: share(0.95) }
}

/**
 * What one new cell gives, before the house has taught anything: the one range for budget, suit, parts and forecast.
 * @param modelMedian - sends or openings by the model, 0 or more; the range is in the same unit
 * @param countKnown - whether a count is known for this kind of cell and load
 * @returns 90 % limits and middle of one cell's life by the prior (`prior.ts`); the middle lies a little under the model
 */
export function newLife(modelMedian: number, countKnown: boolean): Range {
  const known = shares.get(countKnown) ?? sharesOf(countKnown)
  shares.set(countKnown, known)
  return { p05: known.p05 * modelMedian, p50: known.p50 * modelMedian, p95: known.p95 * modelMedian }
}
