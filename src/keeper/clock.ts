import { uptime } from 'node:os'
import { clamp } from '../text/clamp.ts'
import { DAY, HOUR, MINUTE } from '../text/time.ts'
import { inTurn } from './turns.ts'

/** Time as the keeper sees it; tests hand in their own. */
export interface Clock {
  /** Milliseconds since the epoch, by the machine's clock: it may be set. */
  now(): number
  /** Milliseconds since some start; never steps. */
  monotonic(): number
  /** Milliseconds since the machine started: its clock may have been wrong since then. */
  up(): number
  /** Runs `work` once after `milliseconds`; what it answers cancels it. */
  after(milliseconds: number, work: () => void): () => void
}

/** Longest wait a timer of the platform can take. */
const LONGEST = 2 ** 31 - 1

export const systemClock: Clock = {
  now: Date.now,
  monotonic: () => performance.now(),
  up: () => 1000 * uptime(),
  after(milliseconds, work) {
    let cancelTurn = (): void => {}
    const timer = setTimeout(
      () => {
        cancelTurn = inTurn(work)
      },
      clamp(milliseconds, 0, LONGEST),
    )
    return () => {
      clearTimeout(timer)
      cancelTurn()
    }
  },
}

/** Waits until something has come, or for so long. @returns whether it came */
export const within = (milliseconds: number, coming: Promise<unknown>): Promise<boolean> =>
  new Promise(done => {
    const cancel = systemClock.after(milliseconds, () => done(false))
    void coming.then(() => {
      cancel()
      done(true)
    })
  })

/** This program did not exist before, milliseconds since the epoch: a machine without a clock of its own starts in 1970. */
export const PROGRAM_BEGAN = Date.UTC(2026, 0, 1)
/** A clock that is less behind may be right, milliseconds. */
const BEHIND = MINUTE
/**
 * Machines without a clock of their own start at the time that they last wrote down, hourly at least (common practice, no
 * source): one that is farther behind the last time known may as well be right, and was ahead then. Milliseconds.
 */
const FAR_BEHIND = 2 * HOUR

/** A clock of which is known that it has been later already. */
export interface CheckedClock extends Clock {
  /** What the machine's clock says while it cannot be right; `now` is the earliest possible time then. */
  wrong(): number | undefined
  /** The last time that was known at the start, milliseconds since the epoch. */
  readonly known: number
  /** Since when it may be wrong, milliseconds since the epoch, by itself; infinite: what came since has no latest time. */
  doubtfulFrom(): number
}

/**
 * A clock that starts in the past goes on from the last time that is known, until the machine's clock has passed that;
 * where it is far behind, nobody knows which of the two is wrong, and the earlier one is the earliest possible time.
 * One that nobody sets for a day is believed, unless it is older than this program: it was ahead before.
 * @param lastKnown - milliseconds since the epoch
 */
export function checkedClock(clock: Clock, lastKnown = 0): CheckedClock {
  const [floor, start] = [Math.max(lastKnown, PROGRAM_BEGAN), clock.monotonic()]
  let isBehind = true
  const earliest = (): number => floor + clock.monotonic() - start
  const wrong = (): number | undefined => {
    const now = clock.now()
    const mayBeRight = now >= PROGRAM_BEGAN && clock.monotonic() - start >= DAY
    isBehind &&= now < earliest() - BEHIND && !mayBeRight
    return isBehind ? now : undefined
  }
  const isFar = (now: number): boolean => now >= PROGRAM_BEGAN && now < earliest() - FAR_BEHIND
  const now = (): number => {
    const behind = wrong()
    return behind === undefined || isFar(behind) ? clock.now() : earliest()
  }
  return {
    wrong,
    known: floor,
    now,
    doubtfulFrom: () => {
      const behind = wrong()
      if (behind === undefined) return now() - clock.up()
      return isFar(behind) ? Number.POSITIVE_INFINITY : now()
    },
    monotonic: () => clock.monotonic(),
    up: () => clock.up(),
    after: (milliseconds, work) => clock.after(milliseconds, work),
  }
}

/** Repeats `work` every `milliseconds` until what it answers is called. */
export function every(clock: Clock, milliseconds: number, work: () => void): () => void {
  let cancel = (): void => {}
  const next = (): void => {
    cancel = clock.after(milliseconds, () => {
      next()
      work()
    })
  }
  next()
  return () => cancel()
}

/** Tells by how much the machine's clock was set since the last look, milliseconds; 0 for drift and pauses. */
export class StepWatch {
  readonly #clock: Clock
  #apart: number

  constructor(clock: Clock) {
    this.#clock = clock
    this.#apart = clock.now() - clock.monotonic()
  }

  look(): number {
    const apart = this.#clock.now() - this.#clock.monotonic()
    const step = apart - this.#apart
    this.#apart = apart
    return Math.abs(step) < 5_000 ? 0 : step
  }
}
