/**
 * Whether a machine's clock can be right, and when it was set: the one rule of keeper and tablet. A clock that is behind
 * the last time that was known, or behind this program, cannot be right. Times are milliseconds.
 */
import { PROGRAM_BEGAN } from '../ledger/clock-set.ts'
import { DAY, HOUR, MINUTE } from '../text/time.ts'

/** A moment by the machine's clock, and by one that nobody can set. */
export interface Clocks {
  /** Since the epoch. */
  readonly now: number
  /**
   * Since some start. Where it goes on while the machine sleeps, as the keeper's does on Linux, a sleep is no step of the
   * clock; where it stands still then, as a tablet's may, a step forward may have been a sleep.
   */
  readonly elapsed: number
}

/** A clock that is less behind may be right. */
const BEHIND = MINUTE
/**
 * Machines without a clock of their own start at the time that they last wrote down, hourly at least (common practice, no
 * source): one that is farther behind the last time known may as well be right, and was ahead then.
 */
const FAR_BEHIND = 2 * HOUR
/** What runs apart by less is drift, or a pause. */
const STEP = 5_000

/** A machine's clock from a start on, as it was at the last look. */
export interface WatchedClock {
  /** The last time that was known, since the epoch: that of the last look at which the clock could be right. */
  readonly known: number
  /** When that was, or the start where there was none since, by the clock that nobody can set. */
  readonly knownAt: number
  /** `checkedNow` less `elapsed`. */
  readonly apart: number
  /** The machine's clock cannot be right. A clock that could be right is believed, wherever it is set in the time of this program. */
  readonly isWrong: boolean
}

/** @param lastKnown - since the epoch; undefined: no time is known */
export function watchClock(clocks: Clocks, lastKnown = 0): WatchedClock {
  const known = Math.max(lastKnown, PROGRAM_BEGAN)
  return lookAt({ known, knownAt: clocks.elapsed, apart: 0, isWrong: true }, clocks).clock
}

/** The clock now, and by how much it was set since the last look; 0 for drift and pauses. */
export function lookAt(
  clock: WatchedClock,
  clocks: Clocks,
): { readonly clock: WatchedClock; readonly stepMilliseconds: number } {
  const apart = checkedNow(clock, clocks) - clocks.elapsed
  const step = Math.round(apart - clock.apart)
  const isWrong = isWrongNow(clock, clocks)
  const { known, knownAt } = isWrong ? clock : { known: clocks.now, knownAt: clocks.elapsed }
  return {
    clock: { known, knownAt, apart, isWrong },
    stepMilliseconds: Math.abs(step) < STEP ? 0 : step,
  }
}

const earliest = ({ known, knownAt }: WatchedClock, { elapsed }: Clocks): number => known + elapsed - knownAt

/**
 * A clock that is behind this program is wrong always. One that is only behind the last time known, and that nobody sets
 * for a day, is believed: the clock was ahead before.
 */
export const isWrongNow = (clock: WatchedClock, clocks: Clocks): boolean =>
  clocks.now < PROGRAM_BEGAN ||
  (clock.isWrong && clocks.now < earliest(clock, clocks) - BEHIND && clocks.elapsed - clock.knownAt < DAY)

/**
 * The earliest time that it can be, since the epoch. A clock that cannot be right goes on from the last time that is
 * known; where it is far behind, nobody knows which of the two is wrong, and the earlier one is taken.
 */
export function checkedNow(clock: WatchedClock, clocks: Clocks): number {
  const since = earliest(clock, clocks)
  const isFar = clocks.now >= PROGRAM_BEGAN && clocks.now < since - FAR_BEHIND
  return isWrongNow(clock, clocks) && !isFar ? since : clocks.now
}

/**
 * Since when a clock may have been wrong, by itself; infinite: what came since has no latest time.
 * @param began - when the machine began, by its clock
 */
export function doubtfulFrom(clock: WatchedClock, clocks: Clocks, began: number): number {
  if (!isWrongNow(clock, clocks)) return began
  const now = checkedNow(clock, clocks)
  return now > clocks.now ? now : Number.POSITIVE_INFINITY
}
