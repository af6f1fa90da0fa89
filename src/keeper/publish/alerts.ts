import { alertsDue, type DueAlert } from '../../house/alerts.ts'
import type { HouseState } from '../../house/state.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { ToldAlerts } from '../../protocol/alert.ts'
import { cloudEventOf } from '../../protocol/cloud-event.ts'
import type { Feed } from '../../protocol/feed.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { Clock } from '../clock.ts'
import type { Journal } from '../journal.ts'
import { factIn } from '../store/facts.ts'
import type { TallyStore } from '../store/store.ts'
import { StoreProblem } from '../store/store-problem.ts'
import { AlertPost } from './alert-post.ts'
import { DAY_HOURS, type StatusTopic } from './status-topic.ts'

/** Name of the fact under which the store remembers what was told. */
const TOLD = 'alerts'

interface AlertsOptions {
  readonly feed: Feed
  readonly clock: Clock
  readonly store: Pick<TallyStore<Ledger>, 'fact' | 'commitBatch'>
  readonly journal: Pick<Journal, 'remember'>
  readonly status: Pick<StatusTopic, 'notice'>
  /** The link is up and all that waited has come: only then is it known what may be said. */
  isSettled(): boolean
  /** Marks whose topic the broker does not let the keeper read. */
  unreadable(): ReadonlySet<string>
}

/** Tells the house what its register asks to be told of, each alert once. */
export class Alerts {
  readonly #given: AlertsOptions
  readonly #post: AlertPost
  #told: ToldAlerts | undefined
  #isTelling = false

  constructor(given: AlertsOptions) {
    this.#given = given
    const { clock, status, store } = given
    this.#post = new AlertPost({ clock, say: text => status.notice('alerts', text, DAY_HOURS) })
    this.#told = factIn(store, TOLD)
  }

  stop(): void {
    this.#post.stop()
  }

  /** Called whenever something may have changed, and at every beat. */
  look(state: HouseState): void {
    const { isSettled, unreadable, clock } = this.#given
    if (!state.register?.alerts || this.#isTelling || !isSettled()) return
    const { due, told } = alertsDue(state, this.#told, unreadable(), clock.now())
    if (due.length > 0) void this.#tell(due, state)
    else if (told) this.#remember(told)
  }

  /** What the broker did not take is worked out again at the next look. */
  async #tell(due: readonly DueAlert[], { register }: HouseState): Promise<void> {
    const { tally, broker, alerts } = register!
    this.#isTelling = true
    try {
      for (const { id, note, told } of due) {
        await this.#given.feed.publish(tallyTopics(tally).alert, JSON.stringify(note), { qos: 1 })
        this.#remember(told)
        if (alerts?.to !== undefined) this.#post.send(cloudEventOf(note, id, tally, broker.mqtt), alerts.to)
      }
    } catch {
      // The link went down.
    } finally {
      this.#isTelling = false
    }
  }

  /** On the disk at once where it takes that, for the next start; else with the next entry. */
  #remember(told: ToldAlerts): void {
    if (told === this.#told) return
    this.#told = told
    const { journal, store } = this.#given
    const text = JSON.stringify(told)
    journal.remember(TOLD, text)
    try {
      store.commitBatch({ entries: [], facts: { [TOLD]: text } })
    } catch (error) {
      if (!(error instanceof StoreProblem)) throw error
    }
  }
}
