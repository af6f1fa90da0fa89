import { clamp } from '../text/clamp.ts'

/** Time as the keeper sees it; tests hand in their own. */
export interface Clock {
  /** Milliseconds since the epoch, by the machine's clock: it may be set. */
  now(): number
  /** Milliseconds since some start; never steps. */
  monotonic(): number
  /** Runs `work` once after `milliseconds`; what it answers cancels it. */
  after(milliseconds: number, work: () => void): () => void
}

/** Longest wait a timer of the platform can take. */
const LONGEST = 2 ** 31 - 1

export const systemClock: Clock = {
  now: Date.now,
  monotonic: () => performance.now(),
  after(milliseconds, work) {
    const timer = setTimeout(work, clamp(milliseconds, 0, LONGEST))
    return () => clearTimeout(timer)
  },
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
