import type { Clock } from '../clock.ts'
import { TICK_MILLISECONDS } from '../ticks.ts'
import { Marker } from './marker.ts'

/** Time without a look after which the next tick is so late that nothing was read meanwhile, milliseconds: less is load. */
const STOOD_MILLISECONDS = TICK_MILLISECONDS + 1_500
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
 * - Its process was stopped, or its event loop: it did not look for longer than from one tick to the next.
 * - Its machine slept: its timers slept too, and the clock that nobody can set went on.
 * - Its machine's clock went forward and no other did: it was set, or the machine was paused by the one that it runs in.
 *
 * It looks at every tick and before each word is dated. What is read then may have waited since the last time that the
 * keeper surely read, until a marker that was sent afterwards has come back.
 */
export class Standstill {
  readonly #clock: Clock
  readonly #marker: Marker
  #cancel = (): void => {}
  /** At the last look; undefined while nobody looks. */
  #last: Moment | undefined
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
    this.#cancel = this.#clock.tick(() => this.#look())
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

  #look(): void {
    const last = this.#last
    if (!last) return
    const moment = this.#moment()
    this.#last = moment
    const awake = moment.awake - last.awake
    const unseen = Math.max(moment.now - last.now, moment.monotonic - last.monotonic) - awake
    if (awake < STOOD_MILLISECONDS && unseen < UNSEEN_MILLISECONDS) return
    this.#from ??= last.now
    this.#marker.begin()
  }
}
