import { munkres } from 'munkres'

/** What stands where now, and where it would stand best: `from[i]` is the place whose thing comes to place i. */
export interface Swap {
  readonly from: readonly number[]
  /** Sum of costs as it is, and at best. */
  readonly now: number
  readonly best: number
}

/**
 * The assignment of things to places with the least cost.
 * @param cost - `cost[thing][place]`, square; thing i stands at place i now
 * @param stay - cost that a move must save before it is worth anybody's time, 0 or more
 * @see Munkres 1957, J. SIAM 5, 32 (the library's method)
 */
export function bestSwap(cost: readonly (readonly number[])[], stay: number): Swap {
  const now = cost.reduce((sum, row, i) => sum + row[i]!, 0)
  const same = cost.map((_, i) => i)
  if (cost.length < 2) return { from: same, now, best: now }
  const weighed = cost.map((row, i) => row.map((c, j) => (i === j ? c : c + stay)))
  const from = [...same]
  for (const [thing, place] of munkres(weighed)) from[place] = thing
  const best = from.reduce((sum, thing, place) => sum + cost[thing]![place]!, 0)
  return { from, now, best }
}
