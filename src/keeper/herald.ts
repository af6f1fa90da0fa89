import type { Feed } from '../protocol/feed.ts'
import { type CaughtUp, caughtUpSentences } from './sentences.ts'
import type { Signboard } from './signboard.ts'

/** How long what has happened stands on the keeper's sheet. */
export const DAY_HOURS = 24

export interface HeraldOptions {
  readonly sign: Signboard
  readonly feed: Feed
  /** Where the keeper's state stands. */
  readonly topic: string
  tell(line: string): void
  /** Whether anything may be published yet. */
  isSettled(): boolean
  /** The broker has taken the state: the link is live. */
  published(): void
}

/** Says what the keeper has to say of itself: a line for whoever stands at its machine, and its state at the broker. */
export class Herald {
  readonly #o: HeraldOptions

  constructor(options: HeraldOptions) {
    this.#o = options
  }

  /** Goes out with the next state. */
  notice(name: string, text: string | undefined, hours?: number): void {
    if (text !== undefined) this.#o.tell(text)
    this.#o.sign.notice(name, text, hours)
  }

  /** What stands until it is taken back: told once, and published at once. */
  standing(name: string, text: string | undefined): void {
    if (!this.#o.sign.notice(name, text)) return
    if (text !== undefined) this.#o.tell(text)
    void this.publish()
  }

  /** The disk refuses (or, undefined, takes entries again). */
  trouble(problem: string | undefined): void {
    if (!this.#o.sign.trouble(problem)) return
    this.#o.tell(problem ?? 'entries are kept again')
    void this.publish()
  }

  /** No reading can go out; that the keeper stands still may. */
  silent(text: string, warn: (line: string) => void = this.#o.tell): void {
    if (!this.#o.sign.notice('silent', text)) return
    warn(text)
    void this.publish('broken')
  }

  /** The link is up again: from now on the keeper is at work, and what may be missing is said. */
  caughtUp(session: CaughtUp, now: number): void {
    this.#o.sign.begin()
    this.#o.sign.notice('silent', undefined)
    const { waited, overflow, forgotten } = caughtUpSentences(session, now)
    if (waited !== undefined) this.#o.tell(waited)
    if (overflow !== undefined) this.notice('queue', overflow, DAY_HOURS)
    if (forgotten !== undefined) this.notice('session', forgotten, DAY_HOURS)
  }

  /** @param state - `gone` at the end; `broken` goes out although nothing else may yet */
  async publish(state?: 'gone' | 'broken'): Promise<void> {
    const { feed, topic, sign } = this.#o
    if (!this.#o.isSettled() && state !== 'broken') return
    try {
      await feed.publish(topic, JSON.stringify(sign.note(state)), { qos: 1, retain: true })
      this.#o.published()
    } catch {
      // The link went down: the state is published anew when it is back.
    }
  }
}
