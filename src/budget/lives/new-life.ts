import type { Range } from '../types.ts'
import { lifeLeft } from './forecast.ts'

/** Sends at which the shares are worked out; a Weibull life scales with its median. */
const SENDS = 20

const shares = new Map<boolean, Omit<Range, 'p50'>>()

function sharesOf(countKnown: boolean): Omit<Range, 'p50'> {
  const left = lifeLeft({ modelMedian: SENDS, countKnown, sends: 0, history: [], replaceBelow: 0.9 })
  return { p05: left.quantile(0.05) / SENDS, p95: left.quantile(0.95) / SENDS }
}

/**
 * What one new cell gives, before the house has taught anything: the one range for budget, suit, parts and forecast.
 * @param modelMedian - sends or openings by the model, 0 or more; the range is in the same unit
 * @param countKnown - whether a count is known for this kind of cell and load
 * @returns 90 % limits of one cell's life by the prior (`prior.ts`), whose middle is the model
 */
export function newLife(modelMedian: number, countKnown: boolean): Range {
  const known = shares.get(countKnown) ?? sharesOf(countKnown)
  shares.set(countKnown, known)
  return { p05: known.p05 * modelMedian, p50: modelMedian, p95: known.p95 * modelMedian }
}
