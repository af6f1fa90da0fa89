import { climb, type Peak } from './climb.ts'
import { flood } from './flood.ts'
import { type Kernel, kernelOf, REACH } from './kernel.ts'
import type { OpeningLives } from './lifetime.ts'
import { Likelihood, type Medians, type Slab } from './likelihood.ts'
import { logPrior, OWN_SD_MOST, ownSdAt, type Point, type Prior, ratioAt, shapeAt } from './prior.ts'

/** Spacing of medians, as a logarithm: narrow against the width of any life's likelihood. */
const SPACING = 0.08

/**
 * What the cells of one kind have taught: points over shape, the kind's median and the spread of the openings' own
 * factors. At each of them an opening's own median is spread over the lattice of medians by a kernel.
 */
export interface Posterior {
  readonly openings: readonly OpeningLives[]
  readonly slabs: readonly Slab[]
  readonly medians: Medians
  /** Of each point: its weight (all add up to 1), its shape's index, its kernel. */
  readonly weight: Float64Array
  readonly slab: Int32Array
  readonly kernels: readonly Kernel[]
  /** Likelihood of each opening's lives at each point, over the value that its slab is over. */
  readonly fits: readonly Float64Array[]
  /** Logarithm of the chance of all these lives under the prior, up to a constant. */
  readonly evidence: number
}

/** The top of the posterior, for the lattices that are laid around it. */
export interface Ground {
  /** As the posterior's, by the peak alone: Laplace's approximation. */
  readonly evidence: number
  readonly likelihood: Likelihood
  readonly prior: Prior
  readonly peak: Peak
}

export function groundOf(openings: readonly OpeningLives[], prior: Prior): Ground {
  const likelihood = new Likelihood(openings)
  const peak = climb(z => {
    const before = logPrior(z)
    if (before === Number.NEGATIVE_INFINITY) return before
    return before + likelihood.quick(shapeAt(z[0]), ratioAt(z[1], prior), ownSdAt(z[2]))
  })
  const [xx, , yy, , , zz] = peak.root
  return { likelihood, prior, peak, evidence: peak.height + Math.log((2 * Math.PI) ** 1.5 * xx * yy * zz) }
}

/**
 * Posterior on a lattice that is centred at the mode and as wide as the data allow; each opening's own factor is
 * integrated over at every point.
 * @param step - of the lattice, in standard deviations at the mode: for a smooth peak the trapezoidal rule converges
 *   faster than any power of it
 * @see Gelman et al., Bayesian Data Analysis (3rd ed.), 5.4 (a hierarchical model on a grid), from memory
 */
export function posteriorOf({ likelihood, prior, peak }: Ground, step: number): Posterior {
  const { openings } = likelihood
  const times = openings.map(opening => opening.times)
  const { at, root } = peak
  const [xx, yx, yy, zx, zy, zz] = root
  const place = (i: number, j: number, l: number): Point => {
    const [u, v, w] = [i * step, j * step, l * step]
    return [at[0] + xx * u, at[1] + yx * u + yy * v, at[2] + zx * u + zy * v + zz * w]
  }
  const widest = Math.min(OWN_SD_MOST, ownSdAt(at[2] + REACH * Math.hypot(zx, zy, zz)))
  const half = REACH * (prior.sd * Math.hypot(yx, yy) + widest) + 3 * SPACING
  const medians = { low: ratioAt(at[1], prior) - half, spacing: SPACING, count: Math.ceil((2 * half) / SPACING) + 1 }

  const slabs = new Map<number, { readonly slab: Slab; readonly index: number; readonly height: number }>()
  const slabAt = (i: number) => {
    const known = slabs.get(i)
    if (known) return known
    const slab = likelihood.slab(shapeAt(place(i, 0, 0)[0]), medians)
    const added = { slab, index: slabs.size, height: slab.top.reduce((sum, top, g) => sum + times[g]! * top, 0) }
    slabs.set(i, added)
    return added
  }
  const points = flood((i, j, l) => {
    const z = place(i, j, l)
    const before = logPrior(z)
    if (before === Number.NEGATIVE_INFINITY) return undefined
    const { slab, index, height } = slabAt(i)
    const kernel = kernelOf(medians, ratioAt(z[1], prior), ownSdAt(z[2]))
    const fits = marginals(slab, medians.count, kernel)
    return { height: before + height + logProduct(fits, times), slab: index, kernel, fits }
  })
  const top = points.reduce((most, { height }) => Math.max(most, height), Number.NEGATIVE_INFINITY)
  const weight = Float64Array.from(points, ({ height }) => Math.exp(height - top))
  const sum = weight.reduce((all, each) => all + each, 0)
  return {
    openings,
    slabs: [...slabs.values()].map(({ slab }) => slab),
    medians,
    weight: weight.map(each => each / sum),
    slab: Int32Array.from(points, ({ slab }) => slab),
    kernels: points.map(({ kernel }) => kernel),
    fits: points.map(({ fits }) => fits),
    evidence: top + Math.log(sum * step ** 3 * xx * yy * zz),
  }
}

/** A kernel that lies this far from all that an opening's lives allow counts as so unlikely, and no more. */
const LEAST_FIT = 1e-150
/** A product that falls under this is turned into a logarithm: it times `LEAST_FIT` is still a number. */
const SMALL = 1e-100

/** Likelihood of each opening's lives, its own factor integrated over. */
function marginals({ share, top }: Slab, medians: number, { chances, from }: Kernel): Float64Array {
  const fits = new Float64Array(top.length)
  const wide = chances.length
  for (let g = 0; g < fits.length; g++) {
    let sum = 0
    const at = g * medians + from
    for (let j = 0; j < wide; j++) sum += chances[j]! * share[at + j]!
    fits[g] = Math.max(sum, LEAST_FIT)
  }
  return fits
}

/** Logarithm of the product of all, each to the power of its `times`. */
function logProduct(fits: Float64Array, times: readonly number[]): number {
  let log = 0
  let product = 1
  for (let g = 0; g < fits.length; g++) {
    if (times[g] === 1) product *= fits[g]!
    else log += times[g]! * Math.log(fits[g]!)
    if (product > SMALL) continue
    log += Math.log(product)
    product = 1
  }
  return log + Math.log(product)
}
