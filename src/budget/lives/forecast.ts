import { shownValue } from '../check.ts'
import { changeDate, figuresOf } from './figures.ts'
import { type Ages, COUNTED_FROM_NEW, type Datum, type Lifetime, type Posterior, posteriorOf } from './posterior.ts'
import { type RateInput, rateOf } from './rate.ts'
import { type Remaining, remaining } from './remaining.ts'
import { gaussLegendre } from './special-functions.ts'

/** What is left in a cell, in openings; every figure is a chance statement about this one cell. */
export interface Forecast {
  readonly left: { readonly p05: number; readonly p50: number; readonly p95: number }
  /** Chance that the next opening gets through. */
  readonly next: number
  /**
   * Further openings until `next` is read under `replaceBelow`, all of them getting through; no more than what is
   * left at p95 (for a long-lived kind the chance of the very next opening stays high to the end).
   */
  readonly untilLow: number
  /** `next` never falls under `replaceBelow` within what is left at p95. */
  readonly neverLow?: true
  /** Further openings that all get through with chance `replaceBelow`, looked at from now. */
  readonly countOn: number
  /**
   * Milliseconds since the epoch: looked at from now, the day from which an opening gets through with less than
   * `replaceBelow`. Test the contact or change its cell by then; each word heard moves the day. Absent when no rate
   * is known.
   */
  readonly changeBy?: number
  readonly restsOn: RestsOn
}

/** `house` once a cell of this kind has died here. `cells`: lives of this kind that were used, `deaths` of them ended. */
export interface RestsOn {
  readonly source: 'practice' | 'house'
  /** Only where no count is known in the trade for this kind: the model rests on assumptions. */
  readonly assumed?: true
  readonly cells: number
  readonly deaths: number
}

/** Sends before the count began: how many are expected, or `unknown` when nobody knows the cell's age. */
export type UnknownBefore = number | 'unknown'

export interface ForecastInput extends RateInput {
  /** Median sends of a new cell by the model. */
  readonly modelMedian: number
  /** Whether a count is known in the trade for this kind of cell and load. */
  readonly countKnown: boolean
  /** Sends that one opening costs: 1, or 2 where the closing is sent from the cell too; default 1. */
  readonly sendsPerOpening?: number
  /** Sends of this cell that got through or were heard of since the count began. */
  readonly sends: number
  readonly unknownBefore?: UnknownBefore
  /** Lives of the house's other cells of this kind, in sends. */
  readonly history: readonly Lifetime[]
  /** Chance of the next send under which a cell is to be changed, above 0 and below 1. */
  readonly replaceBelow: number
  /** Milliseconds since the epoch. */
  readonly now: number
}

/**
 * What a cell has left, by Bayes' rule on a grid over the median and shape of a Weibull life.
 *
 * Sends are counted whole: a cell that gave n and is dead failed between its n-th and its (n + 1)-th try.
 * @throws RangeError when a figure is out of its range; the message names it
 * @see Gelman et al., Bayesian Data Analysis (3rd ed.), 3.7, for a two-parameter posterior on a grid (from memory)
 */
export function forecast(input: ForecastInput): Forecast {
  const { sends, history, replaceBelow, now } = input
  checkNow(now)
  const figures = figuresOf(lifeLeft(input), replaceBelow, input.sendsPerOpening)
  const changeBy = changeDate(figures, rateOf(input), replaceBelow, now)
  const deaths = history.filter(life => !('runningAt' in life)).length
  return {
    left: figures.left,
    next: figures.next,
    untilLow: figures.untilLow,
    ...(figures.neverLow ? { neverLow: true as const } : {}),
    countOn: figures.countOn,
    ...(changeBy === undefined ? {} : { changeBy }),
    restsOn: restsOn(history.length + (sends > 0 ? 1 : 0), deaths, input.countKnown),
  }
}

/** The whole distribution behind `forecast`. */
export function lifeLeft(input: Omit<ForecastInput, 'now' | keyof RateInput>): Remaining {
  checkCell(input)
  const { modelMedian, sends, history } = input
  const ages = agesOf(input.unknownBefore, modelMedian)
  const data: Datum[] = history.map(life => ({ life: checkLife(life), modelMedian, ages: COUNTED_FROM_NEW, cells: 1 }))
  data.push({ life: { runningAt: sends }, modelMedian, ages, cells: 1 })
  const posterior = posteriorOf(join(data), input.countKnown, movedAt(modelMedian, sends, ages))
  return remaining(posterior, modelMedian, sends, ages)
}

export const restsOn = (cells: number, deaths: number, countKnown: boolean): RestsOn => ({
  source: deaths > 0 ? 'house' : 'practice',
  cells,
  deaths,
  ...(countKnown ? {} : { assumed: true as const }),
})

/** @throws RangeError when it is no time */
export function checkNow(now: number): void {
  if (!Number.isFinite(now)) throw new RangeError(`now must be milliseconds since the epoch, not ${now}`)
}

/** @throws RangeError when a life is negative, not finite or ends before it starts */
export function checkLife<L extends Lifetime>(life: L): L {
  const ok =
    'failedBetween' in life
      ? life.failedBetween[0] >= 0 && life.failedBetween[1] > life.failedBetween[0] && life.failedBetween[1] < Infinity
      : 'failedAt' in life
        ? life.failedAt > 0 && life.failedAt < Infinity
        : life.runningAt >= 0 && life.runningAt < Infinity
  if (!ok) throw new RangeError(`a life must be finite sends, 0 or more, and end after it starts: ${shownValue(life)}`)
  return life
}

/** @throws RangeError that names the figure out of range */
export function checkCell(cell: {
  readonly modelMedian: number
  readonly sends: number
  readonly replaceBelow: number
  readonly unknownBefore?: UnknownBefore
  readonly sendsPerOpening?: number
}): void {
  const { modelMedian, sends, replaceBelow, unknownBefore = 0, sendsPerOpening = 1 } = cell
  if (!(Number.isInteger(sendsPerOpening) && sendsPerOpening >= 1))
    throw new RangeError(`sendsPerOpening must be a whole number of 1 or more, not ${sendsPerOpening}`)
  if (!(modelMedian > 0 && modelMedian < Infinity))
    throw new RangeError(`modelMedian must be above 0, not ${modelMedian}`)
  if (!(sends >= 0 && sends < Infinity)) throw new RangeError(`sends must be 0 or more, not ${sends}`)
  if (!(replaceBelow > 0 && replaceBelow < 1))
    throw new RangeError(`replaceBelow must lie between 0 and 1, not ${replaceBelow}`)
  if (unknownBefore !== 'unknown' && !(unknownBefore >= 0 && unknownBefore < Infinity)) {
    throw new RangeError(`unknownBefore must be 0 or more, not ${unknownBefore}`)
  }
}

/** Ages that stand for the spread of an unknown one. */
const AGE_POINTS = 8
const PRIOR_SHAPE = 3

/**
 * Sends before the count began, as a spread of values: Gauss-Legendre points with their chances. The cell worked when
 * the count began, so the model's own survival weighs them: a guess of 60 for a cell that gives about 20 is mostly
 * disbelieved. An expected number is spread like a count at a rate known as well as a guess of two openings.
 * An unknown age is that of a cell met anywhere in its life (Cox 1962, Renewal Theory, 5.1: density ~ survival).
 * @param points - how many ages; more move a quantile by less than 0.5 %
 */
export function agesOf(unknownBefore: UnknownBefore | undefined, modelMedian: number, points = AGE_POINTS): Ages {
  if (!unknownBefore) return COUNTED_FROM_NEW
  const expected = unknownBefore === 'unknown' ? undefined : unknownBefore
  const most = Math.min(2 * modelMedian, expected === undefined ? Infinity : 8 * expected)
  const nodes = gaussLegendre(points)
  const sends = nodes.map(({ at }) => at * most)
  const weights = nodes.map(({ weight }, i) => {
    const alive = Math.exp(-Math.LN2 * (sends[i]! / modelMedian) ** PRIOR_SHAPE)
    const spread = expected === undefined ? 1 : sends[i]! * Math.exp((-2 * sends[i]!) / expected)
    return weight * alive * spread
  })
  const sum = weights.reduce((all, weight) => all + weight, 0)
  if (!(sum > 0)) return { sends: [expected ?? 0], chances: [1] }
  return { sends, chances: weights.map(weight => weight / sum) }
}

/** Joins equal lives, so that a long history costs no more than its distinct lengths. */
export function join(data: readonly Datum[]): Datum[] {
  const joined = new Map<string, Datum>()
  for (const datum of data) {
    if ('runningAt' in datum.life && datum.life.runningAt === 0) continue
    const key = JSON.stringify([datum.life, datum.modelMedian, datum.ages.sends])
    const old = joined.get(key)
    joined.set(key, old ? { ...old, cells: old.cells + datum.cells } : datum)
  }
  return [...joined.values()]
}

/** How far a new cell's and this cell's quantiles move between two grids. */
export function movedAt(modelMedian: number, sends: number, ages: Ages) {
  return (coarse: Posterior, fine: Posterior): number => {
    let most = 0
    for (const [own, age] of [[0, COUNTED_FROM_NEW] as const, [sends, ages] as const]) {
      const a = remaining(coarse, modelMedian, own, age)
      const b = remaining(fine, modelMedian, own, age)
      for (const p of [0.05, 0.5, 0.95]) {
        const exact = b.quantile(p)
        most = Math.max(most, Math.abs(a.quantile(p) - exact) / exact)
      }
    }
    return most
  }
}
