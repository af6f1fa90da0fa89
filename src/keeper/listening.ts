import type { Feed } from '../protocol/feed.ts'
import type { TallyTopics } from '../protocol/topics.ts'
import type { Register } from '../register/types.ts'
import { Deaf } from './deaf.ts'
import { filtersOf } from './notes.ts'
import type { Missed } from './unheard.ts'

/** What the broker refused is asked for again at every tenth beat: its access list may have been mended. */
const BEATS_TO_ASK = 10

export interface ListeningHooks {
  /** Until now nobody listened to the contacts of these openings. */
  missed(missed: Missed): void
  /** What may not be read, in a sentence; undefined while all may. */
  problem(text: string | undefined): void
}

/** Subscribes to what the keeper must hear, and finds out what it may not. */
export class Listening {
  readonly #feed: Feed
  readonly #topics: TallyTopics
  readonly #hooks: ListeningHooks
  readonly #deaf = new Deaf()
  #register: Register
  #beats = 0

  constructor(feed: Feed, topics: TallyTopics, register: Register, hooks: ListeningHooks) {
    this.#feed = feed
    this.#topics = topics
    this.#register = register
    this.#hooks = hooks
  }

  /** @param survey - also to what the broker keeps of the tally */
  listen(survey: boolean, register = this.#register): void {
    this.#register = register
    const filters = filtersOf(register, this.#topics, survey)
    this.#deaf.keep(filters)
    this.#feed.listen(filters)
    this.#hooks.problem(this.#deaf.problem)
  }

  /** A new link: all is subscribed to again. */
  began(): void {
    this.#deaf.ask()
    this.listen(true)
  }

  /** What had waited has come, and with it the broker's answers. */
  caughtUp(): void {
    this.#answered()
    this.listen(false)
  }

  refused(filters: readonly string[]): void {
    this.#deaf.refuse(filters)
    this.#missed(filters, false)
  }

  /** The link is up, and a beat has passed since what was asked last. */
  beat(): void {
    this.#answered()
    const refused = this.#deaf.filters
    if (++this.#beats % BEATS_TO_ASK !== 0 || refused.length === 0) return
    this.#deaf.ask()
    const filters = filtersOf(this.#register, this.#topics, false)
    this.#feed.listen(filters.filter(filter => !refused.includes(filter)))
    this.#feed.listen(filters)
  }

  #answered(): void {
    const heard = this.#deaf.answered()
    if (heard.length > 0) this.#missed(heard, true)
  }

  #missed(filters: readonly string[], isKeptHeard: boolean): void {
    const marks = this.#register.openings.filter(({ topic }) => filters.includes(topic)).map(({ mark }) => mark)
    this.#hooks.missed({ marks, isKeptHeard })
    this.#hooks.problem(this.#deaf.problem)
  }
}
