import type { Left } from '../../protocol/reading.ts'
import { DAY } from '../../text/time.ts'

/** A forecast follows the last entry after this, and is not made more often than that, milliseconds. */
const AFTER = 600
const EVERY = 5_000
/** Without an entry it is made anew after this: a contact's silence tells something too. */

type LeftByMark = Readonly<Record<string, Left>>

/** What is left in each cell: made after entries came, never while the sheet is drawn. */
export class Forecasts {
  left: LeftByMark = {}
  readonly #make: () => LeftByMark | undefined
  readonly #changed: () => void
  #timer: ReturnType<typeof setTimeout> | undefined
  #daily: ReturnType<typeof setTimeout> | undefined
  #madeAt = Number.NEGATIVE_INFINITY

  /** @param make - the figures of now; undefined where there is no house yet */
  constructor(make: () => LeftByMark | undefined, changed: () => void) {
    this.#make = make
    this.#changed = changed
  }

  soon(): void {
    if (this.#timer !== undefined) return
    const rest = EVERY - Math.abs(performance.now() - this.#madeAt)
    this.#timer = setTimeout(this.#now, Math.max(AFTER, rest))
  }

  stop(): void {
    clearTimeout(this.#timer)
    this.#timer = undefined
    clearTimeout(this.#daily)
  }

  readonly #now = () => {
    this.stop()
    this.#daily = setTimeout(this.#now, DAY)
    this.#madeAt = performance.now()
    const left = this.#make()
    if (!left || JSON.stringify(left) === JSON.stringify(this.left)) return
    this.left = left
    this.#changed()
  }
}
