import type { Entry } from '../protocol/entry.ts'
import type { HeardNote } from '../protocol/heard-note.ts'
import type { KeeperProblemCode } from '../protocol/keeper-note.ts'
import type { Clock } from './clock.ts'
import type { Forecast } from './forecast/forecast.ts'
import { forecastThread } from './forecast/forecast-thread.ts'
import { Forecasts } from './forecast/forecasts.ts'
import type { Journal } from './journal.ts'
import type { Tell } from './log-codes.ts'
import type { Outcome } from './outcome.ts'
import type { Alerts } from './publish/alerts.ts'
import type { Publisher } from './publish/publisher.ts'
import { Timers } from './timers.ts'

interface EffectsOptions {
  readonly journal: Journal
  readonly clock: Clock
  readonly tell: Tell
  /** Default: the thread of this process. */
  readonly forecast: Forecast | undefined
  readonly publisher: Publisher
  readonly alerts: Alerts
  /** What stands in the keeper's state until it is taken back. */
  standing(code: KeeperProblemCode, text: string | undefined): void
  answer(id: string, note: HeardNote): void
  refused(lines: readonly string[]): void
  /** These entries are on the disk. */
  kept(entries: readonly Entry[]): void
  /** A register was taken: its contacts are to be listened to. */
  listen(): void
}

/** Carries out what the machine asks for, once its entries are on the disk. */
export class Effects {
  readonly #given: EffectsOptions
  readonly #timers: Timers
  readonly #forecasts: Forecasts
  #stopped = false

  constructor(given: EffectsOptions) {
    this.#given = given
    const { journal, clock, tell, standing, forecast = forecastThread.forecast } = given
    this.#forecasts = new Forecasts({ journal, clock, forecast, tell, standing })
    this.#timers = new Timers(clock, { wake: () => journal.pass(), forecast: () => this.#forecasts.make() })
  }

  /** Resolves when the first forecast is in the journal, or could not be made in time. */
  get firstForecast(): Promise<void> {
    return this.#forecasts.first
  }

  /** Resolves when nothing more comes of it but what is in the journal. */
  async stop(): Promise<void> {
    this.#stopped = true
    this.#timers.stop()
    this.#forecasts.stop()
    this.#given.publisher.stop()
    await this.#given.alerts.stop()
  }

  /** Nothing waits for the forecast: what none speaks of yet is not certain. */
  carryOut({ entries, answers, refused, topics, forecast, changed, wakeAt }: Outcome): void {
    const { journal, publisher, alerts, answer, kept, listen } = this.#given
    this.#given.refused(refused)
    for (const { id, note } of answers) answer(id, note)
    if (entries.length > 0) kept(entries)
    if (topics) listen()
    if (this.#stopped) return
    if (forecast === 'now') {
      this.#timers.forecastMade()
      this.#forecasts.make()
    } else if (forecast) this.#timers.forecastSoon()
    if (wakeAt !== undefined) this.#timers.wakeAt(journal.state.wakeAt)
    if (topics) publisher.use(journal.state)
    else publisher.changed(journal.state, changed)
    alerts.look(journal.state)
  }
}
