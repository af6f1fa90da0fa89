import { HERMITE } from './kernel.ts'
import { within } from './prior.ts'

/** The cold counts more or less than our own factors say, which have no source: nine times in ten within this factor. */
export const COLD_WITHIN = 2

/**
 * How many times as much the cold counts: log-normal around 1, at the three points of Gauss and Hermite. Whatever the
 * cold moves is worked out at each of them and weighed with its chance. The middle one is our own factors as they stand.
 */
export const COLD_WEIGHTS: readonly { readonly weight: number; readonly chance: number }[] = HERMITE.map(
  ([z, chance]) => ({ weight: Math.exp(within(COLD_WITHIN) * z), chance }),
)
export const AS_THEY_STAND = 1
