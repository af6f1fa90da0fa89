import { uptime } from 'node:os'
import { type Clocks, checkedNow, doubtfulFrom, isWrongNow, lookAt, watchClock } from '../house/clock.ts'
import { clamp } from '../text/clamp.ts'
import { atEveryTick } from './ticks.ts'
import { inTurn } from './turns.ts'

/** Time as the keeper sees it; tests hand in their own. */
export interface Clock {
  /** Milliseconds since the epoch, by the machine's clock: it may be set. */
  now(): number
  /** Milliseconds since some start; nobody can set it. It goes on while the machine sleeps, where that can be told. */
  monotonic(): number
  /** As `monotonic`, and stands still while the machine sleeps, as timers do. */
  awake(): number
  /** Milliseconds since the machine started: its clock may have been wrong since then. */
  up(): number
  /** Runs `work` once after `milliseconds`; what it answers cancels it. */
  after(milliseconds: number, work: () => void): () => void
  /** Runs `work` at every tick (`ticks.ts`) until what it answers is called. */
  tick(work: () => void): () => void
}

/** What is told of time, milliseconds. */
interface Times {
  now(): number
  /** Stands still while the machine sleeps, as timers do. */
  awake(): number
  /** Goes on while the machine sleeps. */
  up(): number
}

/** What the machine's clock runs apart by less is drift. */
const ASIDE_MILLISECONDS = 1_000

/**
 * Time that nobody can set and that goes on while the machine sleeps. A sleep moves the machine's clock, as setting it
 * does: only then is it asked which of the two it was, since asking takes long.
 */
export function elapsedOf({ now, awake, up }: Times): () => number {
  const asleepBefore = up() - awake()
  let asleep = 0
  let apart = now() - awake()
  return () => {
    if (Math.abs(now() - awake() - apart) >= ASIDE_MILLISECONDS) {
      apart = now() - awake()
      const since = up() - awake() - asleepBefore
      if (since - asleep >= ASIDE_MILLISECONDS) asleep = since
    }
    return awake() + asleep
  }
}

/** Longest wait a timer of the platform can take. */
const LONGEST = 2 ** 31 - 1

const awake = (): number => performance.now()
const up = (): number => 1000 * uptime()

export const systemClock: Clock = {
  now: Date.now,
  // Of Linux is known that `uptime` tells the sleep (/proc/uptime, or CLOCK_BOOTTIME) and `performance.now` does not
  // (CLOCK_MONOTONIC; clock_gettime(2)). Elsewhere a sleep is taken for a clock that was set: less is said for certain.
  monotonic: elapsedOf({ now: Date.now, awake, up: process.platform === 'linux' ? up : awake }),
  awake,
  up,
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
  tick: atEveryTick,
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

/** A clock of which is known that it has been later already: see `house/clock.ts`. */
export interface CheckedClock extends Clock {
  /** What the machine's clock says while it cannot be right; `now` is the earliest possible time then. */
  wrong(): number | undefined
  /** The last time that was known, milliseconds since the epoch. */
  readonly known: number
  /** Since when it may be wrong, milliseconds since the epoch, by itself; infinite: what came since has no latest time. */
  doubtfulFrom(): number
  /** By how much it was set since the last look, milliseconds; 0 for drift and pauses. */
  look(): number
}

/** @param lastKnown - milliseconds since the epoch */
export function checkedClock(clock: Clock, lastKnown?: number): CheckedClock {
  const clocks = (): Clocks => ({ now: clock.now(), elapsed: clock.monotonic() })
  let watched = watchClock(clocks(), lastKnown)
  return {
    wrong: () => (isWrongNow(watched, clocks()) ? clock.now() : undefined),
    get known() {
      return watched.known
    },
    now: () => checkedNow(watched, clocks()),
    doubtfulFrom: () => doubtfulFrom(watched, clocks(), clock.now() - clock.up()),
    look() {
      const { clock: looked, stepMilliseconds } = lookAt(watched, clocks())
      watched = looked
      return stepMilliseconds
    },
    monotonic: () => clock.monotonic(),
    awake: () => clock.awake(),
    up: () => clock.up(),
    after: (milliseconds, work) => clock.after(milliseconds, work),
    tick: work => clock.tick(work),
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
