import type { Clock } from '../clock.ts'
import { newId } from '../id.ts'

const AGAIN_MILLISECONDS = 5_000
/** Wait after the first marker that the broker did not take; it doubles up to the wait above. */
const REFUSED_MILLISECONDS = 100

/** Sends markers to itself by the broker until one of them comes back: a full queue at the broker may drop one. */
export class Marker {
  readonly #clock: Clock
  readonly #send: (id: string) => Promise<void>
  /** Of those sent since `begin`. */
  #ids = new Set<string>()
  #failures = 0
  #cancel = (): void => {}

  /** @param send - publishes a marker; rejects when the broker does not take it */
  constructor(clock: Clock, send: (id: string) => Promise<void>) {
    this.#clock = clock
    this.#send = send
  }

  /** Only what is sent from now on counts. */
  begin(): void {
    this.stop()
    this.#next(this.#ids)
  }

  /** @returns whether this is a marker sent since `begin`; then no more are sent */
  cameBack(id: string): boolean {
    const isOne = this.#ids.has(id)
    if (isOne) this.stop()
    return isOne
  }

  stop(): void {
    this.#cancel()
    this.#ids = new Set()
    this.#failures = 0
  }

  #next(ids: Set<string>): void {
    const id = newId(this.#clock.now())
    ids.add(id)
    this.#send(id).then(
      () => this.#later(AGAIN_MILLISECONDS, ids),
      () => this.#later(Math.min(REFUSED_MILLISECONDS * 2 ** this.#failures++, AGAIN_MILLISECONDS), ids),
    )
  }

  #later(milliseconds: number, ids: Set<string>): void {
    if (ids !== this.#ids) return
    this.#cancel = this.#clock.after(milliseconds, () => this.#next(ids))
  }
}
