import type { Taken } from './taken.ts'

/**
 * An acknowledgement is taken for read when its link has been up so long after it. A broker that sends again by the clock
 * has done so by then: nats-server 2.9.10 after 30 s; here four times as long.
 */
const READ_AFTER_MILLISECONDS = 120_000

/**
 * Words whose acknowledgement the broker may not have read. A broker that hands packet ids out again at once gives what
 * it sends again on another link a new one, with or without DUP (nats-server 2.9.10; MQTT-4.4.0-1 and 3.3.1-1 ask for the
 * same packet id, and DUP). There a redelivery is told by topic and bytes alone: each of these words may come once more.
 */
export class UnreadAcks {
  /** By topic and bytes: the turns of the words that are remembered, oldest first. */
  readonly #turns = new Map<string, number[]>()
  /** How long links had been up when words were committed, of those whose acknowledgements may be unread. */
  #commits: { readonly turn: number; readonly at: number }[] = []
  #up = 0
  #lastAt: number | undefined
  #read = 0

  /** Acknowledgements of words up to this turn were read. */
  get read(): number {
    return this.#read
  }

  /** What was stored: of its last words nobody knows how long the link was up after them. */
  begin(read: number, last: number): void {
    this.#read = read
    this.committed(last)
  }

  /** Something came on the link. @param now - monotonic milliseconds */
  passed(now: number): void {
    this.#up += now - (this.#lastAt ?? now)
    this.#lastAt = now
    const isOld = ({ at }: { at: number }): boolean => this.#up - at >= READ_AFTER_MILLISECONDS
    const firstUnread = this.#commits.findIndex(commit => !isOld(commit))
    const old = this.#commits.splice(0, firstUnread < 0 ? this.#commits.length : firstUnread)
    this.#read = old.at(-1)?.turn ?? this.#read
  }

  /** The time until the next link says nothing of what the broker has read. */
  linkEnded(): void {
    this.#lastAt = undefined
  }

  remember({ turn, print }: Taken): void {
    const turns = this.#turns.get(print)
    if (turns) turns.push(turn)
    else this.#turns.set(print, [turn])
  }

  /** The oldest that is remembered. */
  forget({ print }: Taken): void {
    const turns = this.#turns.get(print)
    turns?.shift()
    if (turns?.length === 0) this.#turns.delete(print)
  }

  /** @param turn - the last of what was committed */
  committed(turn: number): void {
    this.#commits.push({ turn, at: this.#up })
  }

  /**
   * Whether a delivery may be one of these words again.
   * @param print - of its topic and bytes
   * @param linkFrom - the last turn before the present link
   * @param staged - what is in the transaction that is being made
   */
  mayHold(print: string, dup: boolean, linkFrom: number, staged: readonly Taken[]): boolean {
    const turns = this.#turns.get(print) ?? []
    if (dup) return turns.length > 0
    const unread = turns.filter(turn => turn > this.#read && turn <= linkFrom).length
    const came = turns.filter(turn => turn > linkFrom).length + staged.filter(one => one.print === print).length
    return came < unread
  }
}
