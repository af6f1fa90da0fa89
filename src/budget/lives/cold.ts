import { DAY, DAYS_IN_YEAR } from '../../text/time.ts'
import type { Remaining } from './cell-left.ts'
import { onSteps } from './send-steps.ts'

/**
 * A cell in the cold gives out sooner, and may come back when it is warmer. So lives are counted in sends at room
 * temperature: the n-th send gets through where the cell has n / share of them to give, with the share of that day, and
 * of all sends the hardest one counts.
 */

/** Share of its sends at room temperature that a cell can give, in the middle of each month (UTC), January first. */
export type Shares = readonly number[]

/** Sends that are taken to be spread evenly over a time. */
export interface Spread {
  /** Milliseconds since the epoch: the first of them. */
  readonly from: number
  readonly perYear: number
  /** Sends before it. */
  readonly already: number
}

/** A cell on its way through the year. */
export interface Course {
  readonly shares: Shares
  /** What its sends so far have come to, in sends at room temperature. */
  readonly worn: number
  /** The sends to come. */
  readonly ahead: Spread
}

/** The cold in which a cell is, for a forecast. */
export interface Cold extends Course {
  /** The most that one more since its last word can have come to: it may have failed on the coldest day since. */
  readonly hardest: number
}

const MONTH = (DAYS_IN_YEAR * DAY) / 12
/** Middle of a January. */
const JANUARY = Date.UTC(2024, 0, 16)

const monthsAt = (at: number): number => (at - JANUARY) / MONTH

/** On straight lines between the middles of the months. */
function shareAt(shares: Shares, months: number): number {
  const whole = Math.floor(months)
  const of = (month: number): number => shares[((month % 12) + 12) % 12]!
  return of(whole) + (months - whole) * (of(whole + 1) - of(whole))
}

/** The most that `sends` such sends come to, in sends at room temperature; 0 for none. */
export function wornBy(shares: Shares, { from, perYear, already }: Spread, sends: number): number {
  if (sends <= 0) return 0
  const begin = monthsAt(from)
  const end = begin + Math.max(0, sends - 1) * (12 / perYear)
  const first = (already + Math.min(1, sends)) / shareAt(shares, begin)
  let most = Math.max(first, (already + sends) / shareAt(shares, end))
  // both go in straight lines between two middles of months: the most lies at an end or at one of them, in the last year
  for (let month = Math.ceil(Math.max(begin, end - 12)); month < end; month++) {
    const before = already + 1 + ((month - begin) * perYear) / 12
    most = Math.max(most, before / shareAt(shares, month))
  }
  return most
}

/** What one send has come to that was made between two times, at worst. */
export function hardestSend(shares: Shares, send: number, from: number, to: number): number {
  const [begin, end] = [monthsAt(from), monthsAt(Math.max(from, to))]
  let least = Math.min(shareAt(shares, begin), shareAt(shares, end))
  for (let month = Math.ceil(begin); month < Math.min(end, begin + 12); month++)
    least = Math.min(least, shareAt(shares, month))
  return send / least
}

/** What the cell will have come to after so many further sends. */
const wornAfter = ({ shares, worn, ahead }: Course, more: number): number => Math.max(worn, wornBy(shares, ahead, more))

/** Further sends of a cell that gives so many at room temperature, in all: real, 0 or more. */
export function furtherSends(cold: Course, room: number): number {
  if (wornAfter(cold, Number.MIN_VALUE) > room) return 0
  let low = 0
  let high = 1
  while (wornAfter(cold, high) <= room) [low, high] = [high, 2 * high]
  while (high - low > 1e-6 * high) {
    const middle = (low + high) / 2
    if (wornAfter(cold, middle) <= room) low = middle
    else high = middle
  }
  return low
}

/** Sends of a new cell fitted when the next send is due that gives so many at room temperature. */
export const newInTheCold = ({ shares, ahead }: Cold, room: number): number =>
  furtherSends({ shares, worn: 0, ahead: { ...ahead, already: 0 } }, room)

/**
 * What is left in the sends of the days to come, from what is left at room temperature.
 * @param chance - of getting through to so many at room temperature in all, from those that it has given
 */
export function inTheCold(
  left: Remaining,
  cold: Course & Partial<Pick<Cold, 'hardest'>>,
  chance = onSteps(more => left.surviving(more), cold.worn),
): Remaining {
  const { hardest } = cold
  return {
    surviving: more => (more > 0 ? chance(wornAfter(cold, more)) : 1),
    ...(hardest === undefined ? {} : { duringSilence: chance(hardest) }),
    quantile: p => furtherSends(cold, cold.worn + left.quantile(p)),
  }
}
