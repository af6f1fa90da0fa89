import type { Feed } from '../../protocol/feed.ts'
import type { Figures, KeeperProblemCode } from '../../protocol/keeper-note.ts'
import { iso } from '../../text/time.ts'
import type { Tell } from '../log-codes.ts'
import { type CaughtUp, caughtUpSentences } from './sentences.ts'
import type { Status } from './status.ts'

/** How long what has happened stands in the keeper's state. */
export const DAY_HOURS = 24

export interface StatusTopicOptions {
  readonly status: Status
  readonly feed: Feed
  /** Where the keeper's state stands. */
  readonly topic: string
  readonly tell: Tell
  /** Whether anything may be published yet. */
  isSettled(): boolean
  /** The broker has taken the state: the link is live. */
  published(): void
}

/** Says what the keeper has to say of itself: a line for whoever stands at its machine, and its state at the broker. */
export class StatusTopic {
  readonly #o: StatusTopicOptions

  constructor(options: StatusTopicOptions) {
    this.#o = options
  }

  /** Goes out with the next state. */
  notice(code: KeeperProblemCode, text: string | undefined, hours?: number, figures?: Figures): void {
    if (text !== undefined) this.#o.tell(text, code)
    this.#o.status.notice(code, text, hours, figures)
  }

  /** What stands until it is taken back, or for some hours: told once, and published at once. */
  standing(code: KeeperProblemCode, text: string | undefined, figures?: Figures, hours?: number): void {
    if (this.shown(code, text, figures, hours) && text !== undefined) this.#o.tell(text, code)
  }

  /**
   * As `standing`, of what the log has already.
   * @returns whether it is new
   */
  shown(code: KeeperProblemCode, text: string | undefined, figures?: Figures, hours?: number): boolean {
    const isNew = this.#o.status.notice(code, text, hours, figures)
    if (isNew) void this.publish()
    return isNew
  }

  /** The disk refuses (or, undefined, takes entries again). */
  trouble(problem: string | undefined): void {
    if (!this.#o.status.trouble(problem)) return
    if (problem === undefined) this.#o.tell('entries are kept again', 'kept-again')
    else this.#o.tell(problem, 'not-kept')
    void this.publish()
  }

  /** No reading can go out; that the keeper stands still may. */
  silent(text: string): void {
    if (!this.#o.status.notice('silent', text)) return
    this.#o.tell(text, 'silent')
    void this.publish('broken')
  }

  /** The link is up again: from now on the keeper is at work, and what may be missing is said. */
  caughtUp(session: CaughtUp, now: number): void {
    this.#o.status.begin()
    this.#o.status.notice('silent', undefined)
    const { waited, overflow, forgotten } = caughtUpSentences(session, now)
    if (waited !== undefined) this.#o.tell(waited, 'waited')
    const missed = { to: iso(now), ...(session.since === undefined ? {} : { from: session.since }) }
    if (overflow !== undefined) this.notice('queue', overflow, DAY_HOURS, missed)
    if (forgotten !== undefined) this.notice('session', forgotten, DAY_HOURS, missed)
  }

  /** @param state - `gone` at the end; `broken` goes out although nothing else may yet */
  async publish(state?: 'gone' | 'broken'): Promise<void> {
    const { feed, topic, status } = this.#o
    if (!this.#o.isSettled() && state !== 'broken') return
    try {
      await feed.publish(topic, JSON.stringify(status.note(state)), { qos: 1, retain: true })
      status.published()
      this.#o.published()
    } catch {
      // The link went down: the state is published anew when it is back.
    }
  }
}
