/**
 * What is believed of how long cells last before the house has taught anything. A life is counted in sends and is
 * Weibull: it outlasts n sends with chance 2^-((n / median)^shape).
 *
 * - The kind's median is log-normal, 90 % within a factor of 1.5 where a count is known in the trade (about 20 cold
 *   joins on a CR2032: common practice, no source), 3 where none is. It is centred so that one new cell, of an opening of
 *   which nothing is known, gives what the model says or more as often as not.
 * - Each opening has its own factor on it, log-normal around 1: its module, its Wi-Fi, its cold sill. How far openings
 *   differ is itself uncertain: the factor's standard deviation is log-normal around 0.2, 90 % within a factor of 2.
 * - The shape is log-normal around 3, 90 % from 1.5 to 6.
 *
 * What that costs in width, for a new cell of 20 sends with a known count: 31 openings at a shape of 3 exactly, 35 with
 * the shape uncertain, 38 with a factor of 0.2 of each opening, 39 with that spread uncertain.
 *
 * No source gives a spread: all three are assumptions, and all three are learned from the house's own cells.
 */

/** Two-sided 90 % point of the standard normal distribution. */
export const Z90 = 1.6448536269514722
/** Standard deviation of the logarithm of something that lies within a factor, nine times in ten. */
export const within = (factor: number): number => Math.log(factor) / Z90

const SHAPE = { median: 3, sd: within(2) } as const
const OWN = { median: 0.2, sd: within(2) } as const
/** The factor's spread is no wider than this: 90 % within a factor of 5. */
export const OWN_SD_MOST = 1
/** Of ln(median / model); a life that scatters so has its own middle a little under its kind's. */
const RATIO = {
  known: { middle: 0.0263, sd: within(1.5) },
  unknown: { middle: 0.0487, sd: within(3) },
} as const

/** Standard normal coordinates of shape, of ln(median / model) and of the own factor's spread, in this order. */
export type Point = readonly [shape: number, ratio: number, own: number]

/** Middle and standard deviation of ln(median / model). */
export interface Prior {
  readonly middle: number
  readonly sd: number
}
export const priorOf = (countKnown: boolean): Prior => (countKnown ? RATIO.known : RATIO.unknown)

/** ln(median / model). */
export const ratioAt = (z: number, { middle, sd }: Prior): number => middle + sd * z

export const shapeAt = (z: number): number => SHAPE.median * Math.exp(SHAPE.sd * z)
/** Standard deviation of the logarithm of an opening's own factor. */
export const ownSdAt = (z: number): number => OWN.median * Math.exp(OWN.sd * z)

/** Logarithm of the prior's density, up to a constant. */
export const logPrior = ([shape, ratio, own]: Point): number =>
  ownSdAt(own) > OWN_SD_MOST ? Number.NEGATIVE_INFINITY : -(shape * shape + ratio * ratio + own * own) / 2
