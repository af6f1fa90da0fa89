import { clamp } from '../../text/clamp.ts'
import { gammaDraw, gauss, poissonDraw, type Random, seeded } from '../lives/draw.ts'
import type { KindDraw } from '../lives/draws.ts'
import type { Chance } from '../lives/mixed.ts'
import type { Rate } from '../lives/rate.ts'
import { logGamma, weibullQuantile } from '../lives/special-functions.ts'
import { must } from '../must.ts'

/** One opening whose cell is changed whenever it fails. */
export interface YearPlace {
  /** Its index in what its kind has taught; undefined for one of which nothing is known. */
  readonly opening: number | undefined
  readonly rate: Rate
  /** Median sends of a new cell by the model, above 0. */
  readonly modelMedian: number
  /** Sends that one opening costs, 1 or more. */
  readonly sendsPerOpening: number
}

/** Openings whose cells are of one kind: what is not known of the kind is the same for all of them. */
export interface YearKind {
  readonly draw: (random: Random) => KindDraw
  readonly places: readonly YearPlace[]
}

/** Years that are played; the chance of what is found is sure to about half a percent. */
const YEARS = 10_000

/** How many new cells replace those that fail within a year. */
export interface YearsCells {
  /** Fewest that suffice with the given chance, above 0 and below 1. @throws RangeError beyond that */
  enough(confidence: number): number
  /** Chance that no more than so many fail. */
  chance(most: number): number
}

/**
 * Cells that fail within a year, every one being new at its beginning.
 * @param kinds - each with the ways in which it may be, whose chances add up to 1
 * Years are played, always the same ones: what the kind is like is drawn once for all of its openings, an own factor and
 * a rate for each, then openings and one life after another. A cell is seen to have failed at the opening that does
 * not get through.
 */
export function yearsCells(kinds: readonly (readonly Chance<YearKind>[])[]): YearsCells {
  const random = seeded(2026)
  const totals = new Float64Array(YEARS)
  for (const ways of kinds) {
    for (let year = 0; year < YEARS; year++) {
      const { draw, places } = oneOf(ways, random)
      const { shape, logRatio } = draw(random)
      for (const { opening, rate, modelMedian, sendsPerOpening } of places) {
        const ratio = Math.exp(logRatio(opening))
        const openings = poissonDraw(random, gammaDraw(random, rate.openings) / rate.years)
        const scale = (modelMedian * ratio) / Math.LN2 ** (1 / shape) / sendsPerOpening
        totals[year]! += renewals(random, openings, shape, scale)
      }
    }
  }
  totals.sort()
  return {
    enough(confidence) {
      must(confidence > 0 && confidence < 1, 'confidence', confidence, 'between 0 and 1')
      return totals[clamp(Math.ceil(confidence * YEARS), 1, YEARS) - 1]!
    },
    chance: most => totals.filter(total => total <= most).length / YEARS,
  }
}

/** One of them, as likely as its chance says. */
function oneOf<T>(ways: readonly Chance<T>[], random: Random): T {
  let place = ways.length > 1 ? random() : 0
  for (const way of ways) {
    place -= way.chance
    if (place < 0) return way
  }
  return ways[0]!
}

/** Above so many lives their number is drawn as a normal one. */
const MANY = 100

/** Cells that fail within so many openings; `scale` in openings. */
function renewals(random: Random, openings: number, shape: number, scale: number): number {
  const least = scale * Math.exp(logGamma(1 + 1 / shape)) + 0.5
  if (openings > MANY * least) {
    const [mean, variance] = wholeLife(shape, scale)
    const expected = openings / mean + (variance + mean - mean ** 2) / (2 * mean ** 2)
    const spread = Math.sqrt((openings * variance) / mean ** 3)
    return clamp(Math.round(expected + spread * gauss(random)), 0, openings)
  }
  let count = 0
  for (let used = 0; ; count++) {
    used += Math.floor(weibullQuantile(random(), shape, scale)) + 1
    if (used > openings) return count
  }
}

/** Above this many openings a life is as good as a continuous one. */
const LONG = 30

/** Mean and variance of a life of whole openings with the one that fails. */
function wholeLife(shape: number, scale: number): [mean: number, variance: number] {
  const moment = (k: number): number => scale ** k * Math.exp(logGamma(1 + k / shape))
  if (scale > LONG) return [moment(1) + 0.5, moment(2) - moment(1) ** 2 + 1 / 12]
  let [mean, square] = [0, 0]
  for (let k = 0, longer = 1; longer > 1e-12; k++, longer = Math.exp(-((k / scale) ** shape))) {
    mean += longer
    square += (2 * k + 1) * longer
  }
  return [mean, square - mean ** 2]
}
