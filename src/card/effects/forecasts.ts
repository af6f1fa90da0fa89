/** A forecast follows the last entry after this, and is not made more often than that, milliseconds. */
const AFTER = 600
const EVERY = 5_000

/** When a forecast is made: after entries came, never while the sheet is drawn. */
export class Forecasts {
  readonly #make: () => Promise<void>
  #timer: ReturnType<typeof setTimeout> | undefined
  #madeAt = Number.NEGATIVE_INFINITY

  #isMaking = false

  constructor(make: () => Promise<void>) {
    this.#make = make
  }

  soon(): void {
    if (this.#timer !== undefined) return
    const rest = EVERY - Math.abs(performance.now() - this.#madeAt)
    this.#timer = setTimeout(this.#now, Math.max(AFTER, rest))
  }

  stop(): void {
    clearTimeout(this.#timer)
    this.#timer = undefined
  }

  readonly #now = async (): Promise<void> => {
    this.#timer = undefined
    if (this.#isMaking) return this.soon()
    this.#isMaking = true
    this.#madeAt = performance.now()
    await this.#make().finally(() => {
      this.#isMaking = false
    })
  }
}
