import { type Clocks, checkedNow, type WatchedClock } from '../../house/clock.ts'

/** A moment of a tablet: `now` is the earliest time that it can be, `wall` what its clock says; milliseconds since the epoch. */
export interface Moment extends Clocks {
  readonly wall: number
}

/** The tablet's clock beside the page's own timer, which nobody can set. */
export interface Clock {
  /** When it was last looked at, milliseconds since the epoch. */
  readonly at: number
  /** Undefined before the first look. */
  readonly watched: WatchedClock | undefined
  /** When the tablet was last found to have slept or its clock to have been set, and by how much; milliseconds. */
  readonly jumped: { readonly at: number; readonly by: number } | undefined
}

export const noClock: Clock = { at: 0, watched: undefined, jumped: undefined }

/** @param clocks - as the tablet has them */
export const momentBy = ({ watched }: Clock, clocks: Clocks): Moment => ({
  now: watched ? checkedNow(watched, clocks) : clocks.now,
  elapsed: clocks.elapsed,
  wall: clocks.now,
})

export const clocksOf = ({ wall, elapsed }: Moment): Clocks => ({ now: wall, elapsed })
