import type { Entry } from '../protocol/entry.ts'
import type { HeardNote } from '../protocol/heard-note.ts'
import type { Journal } from './journal.ts'
import type { Outcome } from './outcome.ts'
import type { Alerts } from './publish/alerts.ts'
import type { Publisher } from './publish/publisher.ts'
import type { Timers } from './timers.ts'

interface Given {
  readonly journal: Journal
  readonly timers: Timers
  readonly publisher: Publisher
  readonly alerts: Alerts
  answer(id: string, note: HeardNote): void
  refused(lines: readonly string[]): void
  /** These entries are on the disk. */
  kept(entries: readonly Entry[]): void
  /** A register was taken: its contacts are to be listened to. */
  listen(): void
}

/** Carries out what the machine asks for, once its entries are on the disk. */
export class Effects {
  readonly #given: Given
  #stopped = false

  constructor(given: Given) {
    this.#given = given
  }

  stop(): void {
    this.#stopped = true
    this.#given.timers.stop()
    this.#given.publisher.stop()
    this.#given.alerts.stop()
  }

  /** What a person says may end a cell's life: then the forecast is made before anything is shown. */
  carryOut({ entries, answers, refused, topics, forecast, changed, wakeAt }: Outcome): void {
    const { journal, timers, publisher, alerts, answer, kept, listen } = this.#given
    this.#given.refused(refused)
    for (const { id, note } of answers) answer(id, note)
    if (entries.length > 0) kept(entries)
    if (topics) listen()
    if (this.#stopped) return
    if (forecast === 'now') {
      timers.forecastMade()
      journal.forecast()
    } else if (forecast) timers.forecastSoon()
    if (wakeAt !== undefined) timers.wakeAt(journal.state.wakeAt)
    if (topics) publisher.use(journal.state)
    else publisher.changed(journal.state, changed)
    alerts.look(journal.state)
  }
}
