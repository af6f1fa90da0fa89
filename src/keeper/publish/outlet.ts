import type { Heard } from '../../protocol/feed.ts'
import { utf8Text } from '../../text/utf8.ts'

/** Publishes one retained message; rejects when the link is down. */
export type Publish = (topic: string, payload: string) => Promise<void>

interface Wanted {
  /** Equal for payloads that say the same; empty: nothing is to stand there. */
  readonly same: string
  readonly payload: () => string
}

/**
 * What should stand retained at the broker. Only changes go out, one at a time a topic, the last one wins; what did not
 * get out is sent when the link is back.
 */
export class Outlet {
  readonly #publish: Publish
  readonly #wanted = new Map<string, Wanted>()
  readonly #standing = new Map<string, string>()
  readonly #busy = new Set<string>()
  #open = false

  constructor(publish: Publish) {
    this.#publish = publish
  }

  /**
   * @param same - equal for payloads that need not be told apart
   * @param payload - made when it goes out; default `same`
   */
  set(topic: string, same: string, payload = () => same): void {
    this.#wanted.set(topic, { same, payload })
    this.#send(topic)
  }

  /** Takes a topic away: an empty retained message clears it. */
  clear(topic: string): void {
    this.set(topic, '')
  }

  /** What stands at the broker: a copy that it keeps, or what somebody, perhaps this keeper, has just published. */
  seen({ topic, payload, retain }: Heard, sameOf: (payload: string) => string): void {
    const text = utf8Text(payload)
    if (retain) {
      if (text !== '') this.#standing.set(topic, sameOf(text))
      return
    }
    // Of its own words the last one comes back last.
    this.#standing.set(topic, text === '' ? '' : sameOf(text))
    this.#send(topic)
  }

  get topics(): readonly string[] {
    return [...this.#wanted.keys()]
  }

  /** Topics at the broker that nobody here wants. */
  strays(): readonly string[] {
    return [...this.#standing.keys()].filter(topic => !this.#wanted.has(topic))
  }

  /** The link is up and what the broker keeps has been seen: sends whatever differs. */
  open(): void {
    this.#open = true
    for (const topic of this.#wanted.keys()) this.#send(topic)
  }

  /** The link is down; the broker may forget. */
  shut(): void {
    this.#open = false
    this.#standing.clear()
  }

  #send(topic: string): void {
    const wanted = this.#wanted.get(topic)
    if (!wanted || !this.#open || this.#busy.has(topic) || this.#standing.get(topic) === wanted.same) return
    this.#busy.add(topic)
    this.#publish(topic, wanted.payload()).then(
      () => {
        this.#busy.delete(topic)
        if (wanted.same === '' && this.#wanted.get(topic) === wanted) {
          this.#wanted.delete(topic)
          this.#standing.delete(topic)
          return
        }
        if (this.#open) this.#standing.set(topic, wanted.same)
        this.#send(topic)
      },
      () => {
        // The link went down: `open` comes again.
        this.#busy.delete(topic)
      },
    )
  }
}
