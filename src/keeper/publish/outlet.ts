import type { Feed, Heard } from '../../protocol/feed.ts'
import { utf8Text } from '../../text/utf8.ts'
import type { Clock } from '../clock.ts'

/** What somebody else publishes is set right at once, and a topic no more often than this: two writers must not chase each other. */
const MEND_MILLISECONDS = 10_000

/** Words of one topic on their way back that are remembered: the broker hands them on at once. */
const MOST_SENT = 20

interface OutletOptions {
  readonly feed: Pick<Feed, 'publish'>
  readonly clock: Clock
  /** Somebody else has published on a topic of the keeper's own; said for the first of many. */
  foreign(topic: string): void
}

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
  readonly #given: OutletOptions
  readonly #wanted = new Map<string, Wanted>()
  readonly #standing = new Map<string, string>()
  readonly #busy = new Set<string>()
  /** What was published on each topic and has not come back yet, oldest first. */
  readonly #sent = new Map<string, string[]>()
  /** Topics that were set right lately, and what waits to be. */
  readonly #mended = new Map<string, { isDue: boolean }>()
  #open = false

  constructor(given: OutletOptions) {
    this.#given = given
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
    const same = text === '' ? '' : sameOf(text)
    this.#standing.set(topic, same)
    if (this.#isOwn(topic, same)) this.#send(topic)
    else this.#mend(topic)
  }

  /** Of its own words the last one comes back last. */
  #isOwn(topic: string, same: string): boolean {
    const sent = this.#sent.get(topic) ?? []
    const index = sent.indexOf(same)
    sent.splice(0, index + 1)
    return index >= 0
  }

  #mend(topic: string): void {
    if (!this.#open || this.#standing.get(topic) === (this.#wanted.get(topic)?.same ?? '')) return
    const lately = this.#mended.get(topic)
    if (lately) {
      lately.isDue = true
      return
    }
    const mended = { isDue: this.#busy.has(topic) }
    if (this.#mended.size === 0) this.#given.foreign(topic)
    this.#mended.set(topic, mended)
    this.#given.clock.after(MEND_MILLISECONDS, () => {
      this.#mended.delete(topic)
      if (mended.isDue) this.#mend(topic)
    })
    if (this.#wanted.has(topic)) this.#send(topic)
    else this.clear(topic)
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
    this.#sent.clear()
  }

  #send(topic: string): void {
    const wanted = this.#wanted.get(topic)
    if (!wanted || !this.#open || this.#busy.has(topic) || this.#standing.get(topic) === wanted.same) return
    this.#busy.add(topic)
    const sent = this.#sent.get(topic) ?? []
    this.#sent.set(topic, [...sent, wanted.same].slice(-MOST_SENT))
    this.#standing.set(topic, wanted.same)
    this.#given.feed.publish(topic, wanted.payload(), { qos: 1, retain: true }).then(
      () => {
        this.#busy.delete(topic)
        if (wanted.same === '' && this.#wanted.get(topic) === wanted) {
          this.#wanted.delete(topic)
          this.#standing.delete(topic)
          return
        }
        if (this.#wanted.get(topic) !== wanted) this.#send(topic)
      },
      () => {
        // The link went down: `open` comes again.
        this.#busy.delete(topic)
        this.#standing.delete(topic)
      },
    )
  }
}
