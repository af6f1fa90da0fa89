import type { Clock } from '../clock.ts'
import { newId } from '../id.ts'

/** How often it is looked whether the keeper stood still, and how late that look is then, milliseconds. */
const LOOK_MILLISECONDS = 10_000
const STOOD_MILLISECONDS = 3_000

interface Found {
  /** When the keeper surely read, before it stood still; milliseconds since the epoch. */
  readonly from: number
  /** What comes before the echo of this marker may have waited in this machine. */
  readonly marker: string
}

/**
 * Tells when the keeper stood still while words came in: its process was stopped, or its machine slept. A process that was
 * stopped goes on with its timers, before it reads what came meanwhile; the timers of a machine that slept have slept
 * too: before a word is dated, it is looked at the clock.
 */
export class Standstill {
  readonly #clock: Clock
  readonly #send: (marker: string) => void
  #cancel = (): void => {}
  #read = 0
  /** When the next look is due, by the clock that nobody can set. */
  #due = Number.POSITIVE_INFINITY
  #found: Found | undefined

  /** @param send - publishes a marker */
  constructor(clock: Clock, send: (marker: string) => void) {
    this.#clock = clock
    this.#send = send
  }

  /** What had waited at the broker has come. */
  begin(): void {
    this.stop()
    this.#wait()
  }

  /** Since when what is read now may have waited in this machine, milliseconds since the epoch; undefined: it did not. */
  since(): number | undefined {
    this.#look()
    if (!this.#found) this.#read = this.#clock.now()
    return this.#found?.from
  }

  /** A marker came back. */
  echo(marker: string): void {
    this.#look()
    if (marker === this.#found?.marker) this.#found = undefined
  }

  stop(): void {
    this.#cancel()
    this.#due = Number.POSITIVE_INFINITY
    this.#found = undefined
  }

  #wait(): void {
    this.#cancel()
    this.#read = this.#clock.now()
    this.#due = this.#clock.monotonic() + LOOK_MILLISECONDS
    this.#cancel = this.#clock.after(LOOK_MILLISECONDS, () => {
      this.#look()
      this.#wait()
    })
  }

  #look(): void {
    if (this.#clock.monotonic() - this.#due < STOOD_MILLISECONDS) return
    const marker = newId(this.#clock.now())
    this.#found = { from: this.#found?.from ?? this.#read, marker }
    this.#wait()
    this.#send(marker)
  }
}
