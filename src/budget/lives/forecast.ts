import { mustBeObject } from '../check.ts'
import { shownValue } from '../must.ts'
import { agesOf, type UnknownBefore } from './ages.ts'
import type { Remaining } from './cell-left.ts'
import { type Course, furtherSends } from './cold.ts'
import { changeDate, figuresOf } from './figures.ts'
import { learn, newCell } from './learn.ts'
import { COUNTED_FROM_NEW, type Datum, type Lifetime, type OpeningLives } from './lifetime.ts'
import { lifeKey } from './likelihood.ts'
import { priorOf } from './prior.ts'
import { type RateInput, rateOf, silenceChance } from './rate.ts'
import { NO_SEASON } from './season.ts'
import { aliveChance } from './silence.ts'

/** What is left in a cell, in openings; every figure is a chance statement about this one cell. */
export interface Forecast {
  /** Quantiles, 0 for a dead cell counted in. */
  readonly left: { readonly p05: number; readonly p50: number; readonly p95: number }
  /** Chance that the cell still runs; 0 only for one that has failed a test. */
  readonly alive: number
  /** Chance that the next opening gets through: `alive` times that of a cell that runs. */
  readonly next: number
  /**
   * Further openings until the chance of the next one, if the cell runs, is read under `replaceBelow`, all of them
   * getting through; or, while the house knows of no death, until the cell has given what the model expects of one. No
   * more than what is left at p95 (for a long-lived kind that chance stays high to the end).
   */
  readonly untilLow: number
  /** That chance never falls under `replaceBelow` within what is left at p95. */
  readonly neverLow?: true
  /** Further openings that all get through with chance `replaceBelow`, looked at from now. */
  readonly countOn: number
  /**
   * Milliseconds since the epoch: the day by which `untilLow` openings have come as likely as not. Change the cell by
   * then; silence alone does not move the day. Absent when no rate is known.
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
  /** Where the module measures its cell under load: volts at which cells end in it, by what it has measured. */
  readonly volts?: number
}

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
  /** Days since its last word or its fitting, whichever is later; default 0. */
  readonly quietDays?: number
  /** Lives of the house's other cells of this kind, in sends, each of an opening of its own. */
  readonly history: readonly Lifetime[]
  /** Chance of the next send under which a cell is to be changed, above 0 and below 1. */
  readonly replaceBelow: number
  /** Milliseconds since the epoch. */
  readonly now: number
}

/**
 * What a cell has left, by Bayes' rule on a lattice over the lives of its kind (`prior.ts`).
 *
 * Sends are counted whole: a cell that gave n and is dead failed between its n-th and its (n + 1)-th try.
 * @throws RangeError when a figure is out of its range; the message names it
 */
export function forecast(input: ForecastInput): Forecast {
  mustBeObject('input', input, 'an object')
  const { sends, history, replaceBelow, now } = input
  checkNow(now)
  const rate = rateOf(input)
  const left = lifeLeft(input)
  const alive = aliveChance(rate ? silenceChance(rate, input.quietDays ?? 0) : 1, left.surviving(1))
  const figures = figuresOf(left, alive, replaceBelow, input.sendsPerOpening)
  const deaths = history.filter(life => !('runningAt' in life)).length
  const openingsUntil = deaths > 0 ? Infinity : untilMedian(input)
  const untilLow = Math.min(figures.untilLow, openingsUntil)
  const neverLow = figures.neverLow && openingsUntil === Infinity
  const changeBy = changeDate({ rate, season: NO_SEASON, openings: neverLow ? Infinity : untilLow, now })
  return {
    left: figures.left,
    alive,
    next: figures.next,
    untilLow,
    ...(neverLow ? { neverLow } : {}),
    countOn: figures.countOn,
    ...(changeBy === undefined ? {} : { changeBy }),
    restsOn: restsOn(history.length + (sends > 0 ? 1 : 0), deaths, input.countKnown),
  }
}

/** The whole distribution behind `forecast`, of a cell that still runs. */
export function lifeLeft(input: Omit<ForecastInput, 'now' | 'quietDays' | keyof RateInput>): Remaining {
  checkCell(input)
  const { modelMedian, sends, history, countKnown } = input
  const ages = agesOf(input.unknownBefore, modelMedian)
  const cell = { modelMedian, sends, ages }
  const data = history.map((life): Datum => ({ life: checkLife(life), modelMedian, ages: COUNTED_FROM_NEW }))
  const probe = { opening: undefined, before: [], cell }
  return learn(join(data), priorOf(countKnown), [newCell(modelMedian), probe]).remaining(undefined, [], cell)
}

/** Equal lives together, each of an opening of its own, so that a long history costs no more than its lengths. */
function join(lives: readonly Datum[]): OpeningLives[] {
  const joined = new Map<string, { cells: Datum[]; times: number }>()
  for (const life of lives) {
    if ('runningAt' in life.life && life.life.runningAt === 0) continue
    const key = lifeKey(life)
    const found = joined.get(key)
    if (found) found.times++
    else joined.set(key, { cells: [life], times: 1 })
  }
  return [...joined.values()]
}

/** Openings until a cell has given what the model expects of one: the end, while the house knows of no death. */
export const untilMedian = (
  { modelMedian, sends, sendsPerOpening = 1 }: Pick<ForecastInput, 'modelMedian' | 'sends' | 'sendsPerOpening'>,
  cold?: Course,
): number =>
  Math.max(0, Math.ceil((cold ? furtherSends(cold, modelMedian) : modelMedian - sends) / sendsPerOpening - 1e-9))

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
  mustBeObject('a life', life, 'an object')
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
