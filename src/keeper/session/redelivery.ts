import { createHash } from 'node:crypto'
import type { Heard } from '../../protocol/feed.ts'

/** Transactions whose messages are remembered at least. */
export const COMMITS_KEPT = 100

/**
 * Messages that are remembered at least, however small their transactions. A busy broker may have thousands of
 * acknowledgements unread when its client dies: mosquitto 2.0.11 with `autosave_interval 1` writes its whole store for
 * each one, and sends a resumed session more than the client's receive maximum. With 100 commits alone one torture run
 * of 20 kills counted hundreds of words twice. Packet ids come round only after 65,535 messages.
 */
export const MESSAGES_KEPT = 10_000

/** What is remembered of one message: which transaction of the session it was in, and what it looked like. */
export interface Taken {
  readonly turn: number
  readonly batch: number
  readonly packet: number
  readonly print: string
}

const printOf = ({ topic, payload }: Heard): string =>
  createHash('sha256').update(topic).update('\0').update(payload).digest('base64')

/**
 * Tells which deliveries were committed before. DUP alone is never a duplicate: the first copy may never have come. A
 * redelivery has DUP and the packet id, topic and bytes of a message that was committed lately in the same session (MQTT
 * 4.4.0-1: unacknowledged messages are sent again with their packet ids): in one of the last 100 commits, or among the
 * last 10,000 messages. A session that the broker has forgotten empties the list.
 *
 * A broker that gives an acknowledged message's packet id to another one within that time cannot be told apart from one
 * that sends again: until it has stopped for 100 commits, its session counts at least once.
 */
export class Redelivery {
  #known = new Map<number, Taken>()
  #batches: { readonly batch: number; readonly taken: readonly Taken[] }[] = []
  #staged: Taken[] = []
  #stagedByPacket = new Map<number, Taken>()
  #messages = 0
  #turn = 0
  #batch = 0
  #reusedIn = Number.NEGATIVE_INFINITY
  #stagedReuse = false

  #load: (() => readonly Taken[]) | undefined

  /** @param load - what was remembered at the last commit, oldest first; read when the first message comes */
  constructor(load: () => readonly Taken[] = () => [], reusedIn?: number) {
    this.#load = load
    if (reusedIn !== undefined && Number.isSafeInteger(reusedIn)) this.#reusedIn = reusedIn
  }

  #ready(): void {
    const taken = this.#load?.() ?? []
    this.#load = undefined
    for (const one of taken) {
      this.#known.set(one.packet, one)
      const last = this.#batches.at(-1)
      if (last?.batch === one.batch) (last.taken as Taken[]).push(one)
      else this.#batches.push({ batch: one.batch, taken: [one] })
      this.#messages++
      this.#turn = one.turn
      this.#batch = one.batch
    }
  }

  /** True while this session's packet ids come again too soon to tell anything. */
  get reuses(): boolean {
    return this.#stagedReuse || this.#batch - this.#reusedIn < COMMITS_KEPT
  }

  /** The transaction in which a packet id last came again too soon. */
  get reusedIn(): number | undefined {
    return Number.isFinite(this.#reusedIn) ? this.#reusedIn : undefined
  }

  /** True when this very delivery is on the disk already and only its acknowledgement was lost. */
  isRedelivery(heard: Heard): boolean {
    this.#ready()
    if (!heard.dup || heard.qos === 0 || heard.packetId === undefined || this.reuses) return false
    const same = this.#stagedByPacket.get(heard.packetId) ?? this.#known.get(heard.packetId)
    return same !== undefined && same.print === printOf(heard)
  }

  /** Puts a message into the transaction that is being made; at QoS 0 nothing is sent again. */
  stage(heard: Heard): void {
    if (heard.qos === 0 || heard.packetId === undefined) return
    this.#ready()
    const packet = heard.packetId
    if (!heard.dup && (this.#known.has(packet) || this.#stagedByPacket.has(packet))) this.#stagedReuse = true
    const turn = this.#turn + 1 + this.#staged.length
    const taken = { turn, batch: this.#batch + 1, packet, print: printOf(heard) }
    this.#staged.push(taken)
    this.#stagedByPacket.set(packet, taken)
  }

  /** What the transaction adds, and the first turn that is still remembered after it. */
  get staged(): { readonly taken: readonly Taken[]; readonly keepFrom: number; readonly reused: boolean } {
    const oldest = this.#batches[this.#surplus(this.#staged.length)]
    const keepFrom = oldest?.taken[0]?.turn ?? this.#staged[0]?.turn ?? 0
    return { taken: this.#staged, keepFrom, reused: this.#stagedReuse }
  }

  /** How many of the oldest transactions need not be remembered once one of `more` messages is added. */
  #surplus(more: number): number {
    const spare = this.#batches.length + (more > 0 ? 1 : 0) - COMMITS_KEPT
    let left = this.#messages + more
    let count = 0
    while (count < spare && left - this.#batches[count]!.taken.length >= MESSAGES_KEPT) {
      left -= this.#batches[count++]!.taken.length
    }
    return count
  }

  /** Number of the transaction that is being made. */
  get batch(): number {
    return this.#batch + 1
  }

  /** The transaction is on the disk. */
  commit(): void {
    if (this.#staged.length > 0) {
      this.#batch++
      this.#turn += this.#staged.length
      this.#batches.push({ batch: this.#batch, taken: this.#staged })
      for (const one of this.#staged) this.#known.set(one.packet, one)
      if (this.#stagedReuse) this.#reusedIn = this.#batch
      this.#messages += this.#staged.length
      for (const { taken } of this.#batches.splice(0, this.#surplus(0))) {
        this.#messages -= taken.length
        for (const old of taken) if (this.#known.get(old.packet) === old) this.#known.delete(old.packet)
      }
    }
    this.rollback()
  }

  /** The transaction was not made. */
  rollback(): void {
    this.#staged = []
    this.#stagedByPacket = new Map()
    this.#stagedReuse = false
  }

  /** Takes back what was staged after the first `length` messages. */
  unstage(length: number): void {
    this.#staged.length = length
    this.#stagedByPacket = new Map(this.#staged.map(one => [one.packet, one]))
  }

  /** The broker has no session any more. */
  forget(): void {
    this.rollback()
    this.#load = undefined
    this.#known = new Map()
    this.#batches = []
    this.#messages = 0
    this.#reusedIn = Number.NEGATIVE_INFINITY
  }
}
