import type { Feed } from '../../protocol/feed.ts'
import { MOST_MARKS } from '../../protocol/keeper-note.ts'
import type { TallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'
import type { Clock } from '../clock.ts'
import { filtersOf } from '../publish/notes.ts'
import { UnreadableFilters } from './unreadable-filters.ts'

/** What the broker refused is asked for again at every tenth beat: its access list may have been mended. */
const BEATS_TO_ASK = 10

export interface SubscriptionHooks {
  /** Words of these openings went unheard until `to`, milliseconds since the epoch; what the broker kept of them came after. */
  missed(marks: readonly string[], to: number): void
  /** What may not be read, in a sentence, and the openings that are not heard; undefined while all may. */
  problem(text: string | undefined, marks: readonly string[]): void
}

interface SubscriptionsOptions {
  readonly feed: Feed
  readonly topics: TallyTopics
  readonly clock: Clock
  readonly register: Register
}

/** Subscribes to what the keeper must hear, and finds out what it may not. */
export class Subscriptions {
  readonly #given: SubscriptionsOptions
  readonly #hooks: SubscriptionHooks
  readonly #unreadable = new UnreadableFilters()
  #register: Register
  #beats = 0
  /** When all was last asked for. */
  #askedAt = 0

  constructor(given: SubscriptionsOptions, hooks: SubscriptionHooks) {
    this.#given = given
    this.#hooks = hooks
    this.#register = given.register
  }

  /** @param survey - also to what the broker keeps of the tally */
  listen(survey: boolean, register = this.#register): void {
    this.#register = register
    const filters = filtersOf(register, this.#given.topics, survey)
    this.#unreadable.keep(filters)
    this.#given.feed.listen(filters)
    this.#hooks.problem(this.#unreadable.problem, [...this.unreadable].slice(0, MOST_MARKS))
  }

  /** A new link: all is subscribed to again. */
  began(): void {
    this.#ask()
    this.listen(true)
  }

  /** What had waited has come, and with it the broker's answers. */
  caughtUp(): void {
    this.#answered()
    this.listen(false)
  }

  /** Marks of openings whose topic may not be read. */
  get unreadable(): ReadonlySet<string> {
    return new Set(this.#marksOf(this.#unreadable.filters))
  }

  refused(filters: readonly string[]): void {
    this.#unreadable.refuse(filters)
    this.#missed(filters, this.#given.clock.now())
  }

  /** The link is up, and a beat has passed since what was asked last. */
  beat(): void {
    this.#answered()
    const refused = this.#unreadable.filters
    if (++this.#beats % BEATS_TO_ASK !== 0 || refused.length === 0) return
    this.#ask()
    const filters = filtersOf(this.#register, this.#given.topics, false)
    this.#given.feed.listen(filters.filter(filter => !refused.includes(filter)))
    this.#given.feed.listen(filters)
  }

  #ask(): void {
    this.#askedAt = this.#given.clock.now()
    this.#unreadable.ask()
  }

  #answered(): void {
    const readable = this.#unreadable.answered()
    if (readable.length > 0) this.#missed(readable, this.#askedAt)
  }

  #missed(filters: readonly string[], to: number): void {
    const marks = this.#marksOf(filters)
    if (marks.length > 0) this.#hooks.missed(marks, to)
    this.#hooks.problem(this.#unreadable.problem, [...this.unreadable].slice(0, MOST_MARKS))
  }

  #marksOf(filters: readonly string[]): readonly string[] {
    return this.#register.openings.filter(({ topic }) => filters.includes(topic)).map(({ mark }) => mark)
  }
}
