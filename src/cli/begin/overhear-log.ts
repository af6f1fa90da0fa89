import { utf8Text } from '../../text/utf8.ts'

/** What was heard on one topic, in order. */
export interface Overheard {
  readonly topic: string
  /** Milliseconds since the epoch. */
  readonly at: number
  readonly text: string
  /** Whether its publisher asked the broker to keep it; undefined while that is not known. */
  readonly retained: boolean | undefined
  /** A copy that the broker kept, given when the listening began or on asking. */
  readonly kept: boolean
  /** Which unbroken stretch of listening it came in. */
  readonly stretch: number
}

/** Copies that the broker kept come within this time of the subscription. */
const COPIES_MILLISECONDS = 3_000
/** Longest payload that is looked at, bytes. */
const LONGEST = 2_000
const MOST_TOPICS = 5_000
const MOST_A_TOPIC = 400
const MOST_ASKED_A_TOPIC = 12

/** A text whose keeping is to be asked about. */
export interface Doubtful {
  readonly topic: string
  readonly text: string
}

/** Keeps what is heard, within bounds, and what became known of it later. Times are milliseconds since the epoch. */
export class OverheardLog {
  readonly #topics = new Map<string, Overheard[]>()
  readonly #asked = new Map<string, number>()
  /** Topics whose copy has come since the link was last made. */
  #fresh = new Set<string>()
  #liveAt = Number.POSITIVE_INFINITY
  #words = 0
  #dropped = 0
  #breaks = 0

  /** The link was made, for the first time or anew: copies follow. */
  live(at: number): void {
    if (this.#liveAt === Number.POSITIVE_INFINITY) this.#liveAt = at
  }

  /** The link was lost: the copies that follow its return are copies, not words. */
  down(): void {
    if (this.#liveAt === Number.POSITIVE_INFINITY) return
    this.#liveAt = Number.POSITIVE_INFINITY
    this.#fresh = new Set()
    this.#breaks++
  }

  hear(topic: string, payload: Uint8Array, retain: boolean, at: number): void {
    const kept = retain && !this.#fresh.has(topic) && at - Math.min(this.#liveAt, at) < COPIES_MILLISECONDS
    this.#fresh.add(topic)
    const list = this.#topics.get(topic) ?? []
    if (!kept) this.#words++
    if ((list.length === 0 && this.#topics.size >= MOST_TOPICS) || list.length >= MOST_A_TOPIC) {
      this.#dropped++
      return
    }
    const text = utf8Text(payload, LONGEST)
    // A broker of MQTT 3.1.1 hands every word on with the flag cleared.
    list.push({ topic, at, text, retained: retain ? true : undefined, kept, stretch: this.#breaks })
    this.#topics.set(topic, list)
  }

  /** Texts that nobody knows to be kept or not, each topic's newest, at most `most`. */
  doubtful(most: number): Doubtful[] {
    const found: Doubtful[] = []
    for (const [topic, list] of this.#topics) {
      if (found.length >= most) break
      const last = list.at(-1)
      if (last?.retained !== undefined || last === undefined || (this.#asked.get(topic) ?? 0) >= MOST_ASKED_A_TOPIC)
        continue
      if (list.some(one => one.text === last.text && one.retained !== undefined)) continue
      found.push({ topic, text: last.text })
    }
    return found
  }

  /**
   * What a fresh subscription was given.
   * @param copy - text that the broker keeps on the topic; undefined when it keeps nothing
   */
  learn({ topic, text }: Doubtful, copy: string | undefined, at: number): void {
    const list = this.#topics.get(topic)
    if (!list) return
    this.#asked.set(topic, (this.#asked.get(topic) ?? 0) + 1)
    // Another word came meanwhile: that the asked one is not kept any more says nothing.
    const overtaken = list.at(-1)?.text !== text
    for (const [index, one] of list.entries()) {
      if (one.retained !== undefined) continue
      if (one.text === copy) list[index] = { ...one, retained: true }
      else if (one.text === text && !overtaken) list[index] = { ...one, retained: false }
    }
    if (copy !== undefined && !list.some(one => one.text === copy))
      list.unshift({ topic, at: list[0]?.at ?? at, text: copy, retained: true, kept: true, stretch: -1 })
  }

  all(): Overheard[] {
    return [...this.#topics.values()].flat()
  }

  get counts(): { words: number; topics: number; dropped: number; breaks: number } {
    return { words: this.#words, topics: this.#topics.size, dropped: this.#dropped, breaks: this.#breaks }
  }
}
