import { type Clocks, checkedNow, type WatchedClock } from '../../house/clock.ts'

/** A moment of a tablet: `now` is the earliest time that it can be, milliseconds since the epoch. */
export interface Moment extends Clocks {
  /** As the tablet's clocks tell it. */
  readonly told: Clocks
}

/** The tablet's clock beside the page's own timer, which nobody can set. */
export interface Clock {
  /** When it was last looked at, by the page's timer, milliseconds; 0: never. */
  readonly at: number
  /** Undefined before the first look. */
  readonly watched: WatchedClock | undefined
  /** When the tablet was last found to have slept or its clock to have been set, and by how much; milliseconds. */
  readonly jumped: { readonly at: number; readonly by: number } | undefined
}

export const noClock: Clock = { at: 0, watched: undefined, jumped: undefined }

export const momentBy = ({ watched }: Clock, told: Clocks): Moment => ({
  now: watched ? checkedNow(watched, told) : told.now,
  elapsed: told.elapsed,
  told,
})
