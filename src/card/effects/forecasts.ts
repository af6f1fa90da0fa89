/** A forecast follows the last entry after this, and what words alone ask for no more often than that, milliseconds. */
const AFTER = 600
const EVERY = 5_000

/** When a forecast is made: after entries came, never while the sheet is drawn. */
export class Forecasts {
  readonly #make: () => Promise<void>
  #timer: ReturnType<typeof setTimeout> | undefined
  #madeAt = Number.NEGATIVE_INFINITY
  #isUrgent = false
  #isMaking = false

  constructor(make: () => Promise<void>) {
    this.#make = make
  }

  /** @param when - `now`: what a person said may have ended a cell's life, and the old forecast stands on the sheet */
  ask(when: 'now' | 'soon'): void {
    const isUrgent = when === 'now'
    if (this.#timer !== undefined && (this.#isUrgent || !isUrgent)) return
    this.stop()
    this.#isUrgent = isUrgent
    const rest = isUrgent ? 0 : EVERY - Math.abs(performance.now() - this.#madeAt)
    this.#timer = setTimeout(this.#now, Math.max(AFTER, rest))
  }

  stop(): void {
    clearTimeout(this.#timer)
    this.#timer = undefined
  }

  readonly #now = async (): Promise<void> => {
    this.#timer = undefined
    if (this.#isMaking) return this.ask(this.#isUrgent ? 'now' : 'soon')
    this.#isMaking = true
    this.#madeAt = performance.now()
    await this.#make().finally(() => {
      this.#isMaking = false
    })
  }
}
