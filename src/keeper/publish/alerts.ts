import { alertsDue, type DueAlert } from '../../house/alerts.ts'
import type { HouseState } from '../../house/state.ts'
import type { ToldAlerts } from '../../protocol/alert.ts'
import { cloudEventOf } from '../../protocol/cloud-event.ts'
import type { Feed } from '../../protocol/feed.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { Clock } from '../clock.ts'
import type { Journal } from '../journal.ts'
import { factIn, type HasFacts } from '../store/facts.ts'
import { AlertPost } from './alert-post.ts'
import { DAY_HOURS, type StatusTopic } from './status-topic.ts'

/** Name of the fact under which the store remembers what was told. */
const TOLD = 'alerts'

interface AlertsOptions {
  readonly feed: Feed
  readonly clock: Clock
  readonly store: HasFacts
  readonly journal: Pick<Journal, 'keepFact'>
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
  #telling: Promise<void> | undefined
  #isStopped = false

  constructor(given: AlertsOptions) {
    this.#given = given
    const { clock, status, store } = given
    this.#post = new AlertPost({ clock, say: text => status.notice('alerts', text, DAY_HOURS) })
    this.#told = factIn(store, TOLD)
  }

  /** What is being told is remembered before the end. */
  async stop(): Promise<void> {
    this.#isStopped = true
    await this.#telling
    this.#post.stop()
  }

  /** Called whenever something may have changed, and at every beat. */
  look(state: HouseState): void {
    const { isSettled, unreadable, clock } = this.#given
    if (!state.register?.alerts || this.#telling || !isSettled()) return
    const { due, told } = alertsDue(state, this.#told, unreadable(), clock.now())
    if (due.length === 0) {
      if (told) void this.#remember(told)
      return
    }
    this.#telling = this.#tell(due, state).finally(() => {
      this.#telling = undefined
    })
  }

  /** What the broker did not take is worked out again at the next look. */
  async #tell(due: readonly DueAlert[], { register }: HouseState): Promise<void> {
    const { tally, broker, alerts } = register!
    try {
      for (const { id, note, told } of due) {
        if (this.#isStopped) return
        await this.#given.feed.publish(tallyTopics(tally).alert, JSON.stringify(note), { qos: 1 })
        await this.#remember(told)
        if (alerts?.to !== undefined) this.#post.send(cloudEventOf(note, id, tally, broker.mqtt), alerts.to)
      }
    } catch {
      // The link went down.
    }
  }

  /** Resolves when it is on the disk, for the next start; at once where that refuses: then with the next entry. */
  async #remember(told: ToldAlerts): Promise<void> {
    if (told === this.#told) return
    this.#told = told
    await this.#given.journal.keepFact(TOLD, JSON.stringify(told))
  }
}
