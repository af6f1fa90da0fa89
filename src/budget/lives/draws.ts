import type { Random } from './draw.ts'
import { medianAt } from './likelihood.ts'
import type { Posterior } from './posterior.ts'

/** One draw of what a kind of cell is like. */
export interface KindDraw {
  readonly shape: number
  /** ln(median / model) at one opening: its index in the posterior, undefined for one of which nothing is known. */
  logRatio(opening: number | undefined): number
}

/** Draws from what a kind has taught: what is not known of the kind is the same for all of its openings. */
export function drawsOf({ weight, slab, slabs, kernels, medians }: Posterior): (random: Random) => KindDraw {
  const upTo = sums(weight)
  return random => {
    const point = placeIn(upTo, random())
    const { shape, share } = slabs[slab[point]!]!
    const { from, chances } = kernels[point]!
    return {
      shape,
      logRatio(opening) {
        const at = opening === undefined ? undefined : opening * medians.count + from
        const own = chances.map((chance, j) => Math.max(0, at === undefined ? chance : chance * share[at + j]!))
        return medianAt(medians, from + placeIn(sums(own), random()))
      },
    }
  }
}

function sums(weights: Float64Array): Float64Array {
  let sum = 0
  return weights.map(weight => {
    sum += weight
    return sum
  })
}

/** Index of the first sum above a share of the last. */
function placeIn(upTo: Float64Array, share: number): number {
  const wanted = share * upTo[upTo.length - 1]!
  let low = 0
  let high = upTo.length - 1
  while (low < high) {
    const middle = (low + high) >> 1
    if (upTo[middle]! <= wanted) low = middle + 1
    else high = middle
  }
  return low
}
