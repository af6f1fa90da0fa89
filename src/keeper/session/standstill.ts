import type { Clock } from '../clock.ts'
import { Marker } from './marker.ts'

/** How often it is looked whether the keeper stood still, and how late that look is then, milliseconds. */
const LOOK_MILLISECONDS = 10_000
const LATE_MILLISECONDS = 3_000
/** Time that passed and that timers know nothing of, milliseconds: less is drift. */
const UNSEEN_MILLISECONDS = 1_000

/** A moment by the three clocks of a `Clock`. */
interface Moment {
  readonly now: number
  readonly monotonic: number
  readonly awake: number
}

/**
 * Tells when the keeper stood still while words came in. Three things show that:
 * - Its process was stopped: it goes on with its timers, before it reads what came meanwhile, and they are late.
 * - Its machine slept: its timers slept too, and the clock that nobody can set went on.
 * - Its machine's clock went forward and no other did: it was set, or the machine was paused by the one that it runs in.
 *
 * The first is looked for now and then, the others before each word is dated too. What is read then may have waited since
 * the last time that the keeper surely read, until a marker that was sent afterwards has come back.
 */
export class Standstill {
  readonly #clock: Clock
  readonly #marker: Marker
  #cancel = (): void => {}
  /** At the last look; undefined while nobody looks. */
  #last: Moment | undefined
  /** When the next look is due, by the clock of timers. */
  #due = 0
  /** When the keeper surely read, before it stood still; milliseconds since the epoch. */
  #from: number | undefined

  /** @param send - publishes a marker */
  constructor(clock: Clock, send: (marker: string) => Promise<void>) {
    this.#clock = clock
    this.#marker = new Marker(clock, send)
  }

  /** What had waited at the broker has come. */
  begin(): void {
    this.stop()
    this.#last = this.#moment()
    this.#wait()
  }

  /** Since when what is read now may have waited in this machine, milliseconds since the epoch; undefined: it did not. */
  since(): number | undefined {
    this.#look()
    return this.#from
  }

  /** A marker came back. */
  echo(marker: string): void {
    this.#look()
    if (this.#marker.cameBack(marker)) this.#from = undefined
  }

  stop(): void {
    this.#cancel()
    this.#marker.stop()
    this.#last = undefined
    this.#from = undefined
  }

  #moment(): Moment {
    return { now: this.#clock.now(), monotonic: this.#clock.monotonic(), awake: this.#clock.awake() }
  }

  #wait(): void {
    this.#cancel()
    this.#due = this.#clock.awake() + LOOK_MILLISECONDS
    this.#cancel = this.#clock.after(LOOK_MILLISECONDS, () => {
      this.#look()
      this.#wait()
    })
  }

  #look(): void {
    const last = this.#last
    if (!last) return
    const moment = this.#moment()
    this.#last = moment
    const passed = Math.max(moment.now - last.now, moment.monotonic - last.monotonic)
    const isLate = moment.awake - this.#due >= LATE_MILLISECONDS
    if (!isLate && passed - (moment.awake - last.awake) < UNSEEN_MILLISECONDS) return
    this.#from ??= last.now
    this.#wait()
    this.#marker.begin()
  }
}
