import type { Taken } from './taken.ts'

/**
 * An acknowledgement is taken for read when links have been up so long after it. A broker that sends again by the clock
 * has done so by then: nats-server 2.9.10 after 30 s, and later where its nodes elect a leader; here four times as long.
 */
const READ_AFTER_MILLISECONDS = 120_000

/** Packet ids looked at: where they rise they come round after 65,535 messages. */
const IDS_KEPT = 10_000

/**
 * Words that a broker may send again under another packet id. MQTT-4.4.0-1 and 3.3.1-1 ask for the same one, and DUP. A
 * broker that hands packet ids out again at once (nats-server 2.9.10) gives a new one to what it sends again on another
 * link, with DUP or without, and on the same link too where another of its nodes goes on with the session. There a
 * redelivery is told by topic and bytes alone: a word like one whose acknowledgement may be unread may be that one.
 */
export class UnreadAcks {
  /** By topic and bytes: the turn of the last word that is remembered. */
  readonly #last = new Map<string, number>()
  /** How long links had been up when words were committed, of those whose acknowledgements may be unread. */
  #commits: { readonly turn: number; readonly at: number }[] = []
  #up = 0
  #lastAt: number | undefined
  #read = 0
  readonly #idsOfLink = new Set<number>()
  #renumbers = false

  /** @param read - what `read` was at the last commit; how long the link was up after that nobody knows */
  begin(read: number | undefined, last: number): void {
    this.#renumbers ||= read !== undefined
    this.#read = Math.min(read ?? 0, last)
    this.committed(last)
  }

  /** Acknowledgements of words up to this turn were read; undefined at a broker whose packet ids rise. */
  get read(): number | undefined {
    return this.#renumbers ? this.#read : undefined
  }

  /**
   * A message came on the link.
   * @param now - milliseconds; stands still while the machine sleeps, since a broker hears nothing of it then
   */
  came(packet: number, dup: boolean, now: number): void {
    this.#renumbers ||= !dup && this.#idsOfLink.has(packet)
    if (this.#idsOfLink.size >= IDS_KEPT) this.#idsOfLink.clear()
    this.#idsOfLink.add(packet)
    this.#up += now - (this.#lastAt ?? now)
    this.#lastAt = now
    const firstUnread = this.#commits.findIndex(({ at }) => this.#up - at < READ_AFTER_MILLISECONDS)
    const read = this.#commits.splice(0, firstUnread < 0 ? this.#commits.length : firstUnread)
    this.#read = read.at(-1)?.turn ?? this.#read
  }

  /** The time until the next link says nothing of what the broker has read. */
  linkEnded(): void {
    this.#lastAt = undefined
    this.#idsOfLink.clear()
  }

  remember({ turn, print }: Taken): void {
    this.#last.set(print, turn)
  }

  forget({ turn, print }: Taken): void {
    if (this.#last.get(print) === turn) this.#last.delete(print)
  }

  /** @param turn - the last of what was committed */
  committed(turn: number): void {
    this.#commits.push({ turn, at: this.#up })
  }

  /**
   * Whether a delivery may be one of these words again.
   * @param print - of its topic and bytes
   * @param staged - what is in the transaction that is being made
   */
  mayHold(print: string, dup: boolean, staged: readonly Taken[]): boolean {
    if (!this.#renumbers) return false
    const last = staged.some(one => one.print === print) ? Number.POSITIVE_INFINITY : this.#last.get(print)
    return last !== undefined && (dup || last > this.#read)
  }
}
