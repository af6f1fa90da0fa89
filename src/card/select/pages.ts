/** A sheet that nobody touches turns its pages itself. */
const IDLE_MILLISECONDS = 60_000
const TURN_MILLISECONDS = 12_000

/** Pages that a sheet has turned by itself. */
export const turnedPages = (idle: number, now: number): number =>
  idle > IDLE_MILLISECONDS ? Math.floor(now / TURN_MILLISECONDS) : 0
