import type { Clock } from './clock.ts'

/** A forecast takes some 50 ms a house: it is asked for at this distance from the words. */
const FORECAST_AFTER_MILLISECONDS = 3_000

export interface TimerHooks {
  /** Time alone changes something. */
  wake(): void
  forecast(): void
}

/** When the machine is to be woken, and when a forecast that is not urgent is made. */
export class Timers {
  readonly #clock: Clock
  readonly #hooks: TimerHooks
  #cancelWake = (): void => {}
  #cancelForecast: (() => void) | undefined
  #stopped = false

  constructor(clock: Clock, hooks: TimerHooks) {
    this.#clock = clock
    this.#hooks = hooks
  }

  /** @param at - milliseconds since the epoch; takes the place of the last one */
  wakeAt(at: number): void {
    this.#cancelWake()
    if (!this.#stopped) this.#cancelWake = this.#clock.after(Math.max(1, at - this.#clock.now()), this.#hooks.wake)
  }

  forecastSoon(): void {
    if (this.#stopped) return
    this.#cancelForecast ??= this.#clock.after(FORECAST_AFTER_MILLISECONDS, () => {
      this.forecastMade()
      this.#hooks.forecast()
    })
  }

  /** One that was wished for need not be made any more. */
  forecastMade(): void {
    this.#cancelForecast?.()
    this.#cancelForecast = undefined
  }

  stop(): void {
    this.#stopped = true
    this.#cancelWake()
    this.forecastMade()
  }
}
