import { type Medians, medianAt } from './likelihood.ts'

/** Reach of a normal distribution, in standard deviations. */
export const REACH = 5

/** Weights of neighbouring points of a lattice; they add up to 1. */
export interface Kernel {
  readonly from: number
  readonly chances: Float64Array
}

/** A distribution narrower than this many spacings is not sampled: the points are too far apart. */
const NARROW = 0.8
/** Gauss and Hermite's three points of a standard normal variable: exact for polynomials up to the fifth degree. */
export const HERMITE = [
  [-Math.sqrt(3), 1 / 6],
  [0, 2 / 3],
  [Math.sqrt(3), 1 / 6],
] as const

/** A normal distribution as weights on the lattice. */
export function kernelOf(medians: Medians, middle: number, sd: number): Kernel {
  const { low, spacing, count } = medians
  if (sd < NARROW * spacing) return narrow(medians, middle, sd)
  const inside = (index: number): number => Math.min(count - 1, Math.max(0, Math.round(index)))
  const from = inside((middle - REACH * sd - low) / spacing)
  const to = inside((middle + REACH * sd - low) / spacing)
  const chances = new Float64Array(to - from + 1)
  let sum = 0
  for (let j = 0; j < chances.length; j++) {
    const off = (medianAt(medians, from + j) - middle) / sd
    chances[j] = Math.exp((-off * off) / 2)
    sum += chances[j]!
  }
  for (let j = 0; j < chances.length; j++) chances[j] = sum > 0 ? chances[j]! / sum : 1 / chances.length
  return { from, chances }
}

/** Three points of it, each between the four nearest of the lattice by Lagrange's polynomial. */
function narrow({ low, spacing, count }: Medians, middle: number, sd: number): Kernel {
  const places = HERMITE.map(([z, share]) => [(middle + z * sd - low) / spacing, share] as const)
  const first = (place: number): number => Math.min(count - 4, Math.max(0, Math.floor(place) - 1))
  const from = first(places[0]![0])
  const chances = new Float64Array(first(places[2]![0]) + 4 - from)
  for (const [place, share] of places) {
    const at = first(place)
    for (let i = 0; i < 4; i++) {
      let weight = share
      for (let j = 0; j < 4; j++) if (j !== i) weight *= (place - at - j) / (i - j)
      chances[at + i - from]! += weight
    }
  }
  return { from, chances }
}
