/** A moment by the tablet's clock, milliseconds since the epoch, and by the page's, which nobody can set. */
export interface Clocks {
  readonly now: number
  readonly elapsed: number
}

/** The tablet's clock beside the page's own timer, which nobody can set. */
export interface Clock {
  /** When it was last looked at, milliseconds since the epoch. */
  readonly at: number
  /** Wall time less page time; undefined before the first look. */
  readonly offset: number | undefined
  /** When the tablet was last found to have slept or its clock to have been set, and by how much; milliseconds. */
  readonly jumped: { readonly at: number; readonly by: number } | undefined
}

export const noClock: Clock = { at: 0, offset: undefined, jumped: undefined }
