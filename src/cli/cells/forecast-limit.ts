import { SHELF_YEARS } from '../../budget/circuit/cells.ts'
import { changeDate } from '../../budget/lives/figures.ts'
import { type RateInput, rateOf } from '../../budget/lives/rate.ts'
import type { Season } from '../../budget/lives/season.ts'
import type { HouseLeft } from '../../house/forecast.ts'
import { DAY, DAYS_IN_YEAR, iso } from '../../text/time.ts'
import type { ForecastJson } from '../json/cells.ts'

/** A day with its 90 % range, milliseconds since the epoch. */
export interface Due {
  readonly by: number
  readonly from: number
  /** Absent where the model is a lower bound of what the cell gives. */
  readonly to?: number
}

/**
 * What ends the use of a cell, and when. `low`: its next opening is no longer to be relied on; `empty`: that never shows
 * before, since each opening is about as likely to get through as the last; `shelf`: it stands too long.
 */
export type Limit =
  | (Due & { readonly end: 'low' | 'empty' })
  | { readonly end: 'shelf'; readonly by: number; readonly before: Due & { readonly end: 'low' | 'empty' } }

type LimitJson = NonNullable<ForecastJson['openings'][number]['limit']>

export const toldLimit = (limit: Limit): LimitJson =>
  limit.end === 'shelf'
    ? { end: limit.end, by: iso(limit.by), before: { end: limit.before.end, ...toldDue(limit.before) } }
    : { end: limit.end, ...toldDue(limit) }

const toldDue = ({ by, from, to }: Due) => ({
  by: iso(by),
  from: iso(from),
  ...(to === undefined ? {} : { to: iso(to) }),
})

/** Of one cell. */
export interface LimitInput {
  readonly rate: RateInput
  readonly season: Season
  readonly left: HouseLeft
  /** When the cell was fitted, where that is known; milliseconds since the epoch, as `now`. */
  readonly fittedAt: number | undefined
  readonly now: number
}

const SHELF = SHELF_YEARS * DAYS_IN_YEAR * DAY

/** @returns undefined where nobody knows how often it is opened */
export function limitOf(input: LimitInput): Limit | undefined {
  const { left, fittedAt, now } = input
  if (left.changeBy === undefined) return undefined
  const first = left.neverLow ? emptyBy(input) : lowBy(input, left.changeBy)
  const shelf = Math.max(now, Math.min(fittedAt ?? now, now) + SHELF)
  // Days from now on are named to the shelf life and no further.
  if (first.by < Math.min(shelf, now + SHELF - DAY)) return first
  return { end: 'shelf', by: shelf, before: first }
}

type Ends = 'low' | 'empty'

const dayOf =
  ({ rate, season, now }: LimitInput) =>
  (openings: number, chance: number): number =>
    changeDate({ rate: rateOf(rate), season, openings, now, chance }) ?? now

/** The day by which the openings until then have come: one in twenty comes to it before `from`, one after `to`. */
function lowBy(input: LimitInput, by: number): Due & { end: Ends } {
  const { untilLow, atLeast } = input.left
  const day = dayOf(input)
  return { end: 'low', by, from: day(untilLow, 0.05), ...(atLeast ? {} : { to: day(untilLow, 0.95) }) }
}

/**
 * The day by which all that is left has been opened. What is left and how soon it is opened are not certain, each for
 * itself: their spreads, as logarithms, add up as squares.
 */
function emptyBy(input: LimitInput): Due & { end: Ends } {
  const { now, left } = input
  const { p05, p50, p95 } = left.left
  const day = dayOf(input)
  const by = day(p50, 0.5)
  const days = (at: number): number => Math.log(at - now) - Math.log(by - now)
  const spread = (openings: number, chance: number): number =>
    Math.hypot(days(day(openings, 0.5)), days(day(p50, chance)))
  if (by <= now) return { end: 'empty', by, from: now, ...(left.atLeast ? {} : { to: day(p95, 0.95) }) }
  const at = (times: number): number => now + Math.round((by - now) * Math.exp(times))
  return { end: 'empty', by, from: at(-spread(p05, 0.05)), ...(left.atLeast ? {} : { to: at(spread(p95, 0.95)) }) }
}
