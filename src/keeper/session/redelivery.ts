import type { Heard } from '../../protocol/feed.ts'
import { factIn, type HasFacts } from '../store/facts.ts'
import { keyOf, printOf, type Taken } from './taken.ts'
import { UnreadAcks } from './unread-acks.ts'

/** Transactions whose messages are remembered at least. */
export const COMMITS_KEPT = 100

/**
 * Messages that are remembered at least, however small their transactions. A busy broker may have thousands of
 * acknowledgements unread when its client dies: mosquitto 2.0.11 with `autosave_interval 1` writes its whole store for
 * each one, and sends a resumed session more than the client's receive maximum. With 100 commits alone one torture run
 * of 20 kills counted hundreds of words twice. Packet ids come round only after 65,535 messages.
 */
export const MESSAGES_KEPT = 10_000

/** What was on the disk of a session at the last commit. */
export interface Remembered extends HasFacts {
  /** Oldest first. */
  taken(): readonly Taken[]
}

const NOTHING: Remembered = { taken: () => [], fact: () => undefined }

/** A delivery that was committed before is `again`; `maybe` may be that, or another message under a used packet id. */
export type Delivery = 'first' | 'again' | 'maybe'

/**
 * Tells which deliveries were committed before. DUP alone is never a duplicate: the first copy may never have come. A
 * redelivery has DUP and the packet id, topic and bytes of a message that was committed lately in the same session (MQTT
 * 4.4.0-1: unacknowledged messages are sent again with their packet ids): in one of the last 100 commits, or among the
 * last 10,000 messages. A session that the broker has forgotten empties the list.
 *
 * Another message may have that packet id, topic and bytes, and be told by DUP too: its first copy went to a keeper that
 * died. Two things make that possible, and the delivery `maybe`:
 * - A broker came back from an older store and hands packet ids out again. That ends the link, so the other message was
 *   first sent on a later link than the committed one; with DUP it comes on a link later still. On the link after the
 *   commit a redelivery is certain.
 * - A broker hands an acknowledged message's packet id out again at once. It is seen to do so: copies of retained messages
 *   and the keeper's own markers come under packet ids too. Until it has stopped for 100 commits, its session counts at
 *   least once, and what may come again under another one is told by topic and bytes (`unread-acks.ts`).
 *
 * A message whose packet id came again for another one since is `maybe` as well: a broker that came back from an older
 * store more than once has what waited in each of them.
 *
 * Without DUP a message under the packet id, topic and bytes of a commit on an earlier link is `maybe` too: in an older
 * store of the broker it may be waiting still.
 */
export class Redelivery {
  /** The last message under each packet id, and the last of each look under it. */
  #known = new Map<number, Taken>()
  #looks = new Map<string, Taken>()
  #batches: { readonly batch: number; readonly taken: readonly Taken[] }[] = []
  #staged: Taken[] = []
  #stagedByPacket = new Map<number, Taken>()
  #messages = 0
  #turn = 0
  #batch = 0
  #reusedIn = Number.NEGATIVE_INFINITY
  #stagedReuse = false
  /** Packet ids of messages that are not kept, and the last turn before each. */
  readonly #unkept = new Map<number, number>()
  /** After which turns the last link of the session and the present one began. */
  #links: readonly [last: number, present: number] = [0, 0]
  #stagedLinks: readonly [last: number, present: number] | undefined
  #isForgotten = false

  #unread = new UnreadAcks()

  #remembered: Remembered | undefined
  readonly #awake: () => number

  /**
   * @param remembered - read when it is needed first
   * @param awake - milliseconds since some start; stands still while the machine sleeps
   */
  constructor(remembered: Remembered = NOTHING, awake: () => number = () => 0) {
    this.#remembered = remembered
    this.#awake = awake
  }

  #ready(): void {
    const remembered = this.#remembered
    if (!remembered) return
    for (const one of remembered.taken()) {
      this.#remember(one)
      const last = this.#batches.at(-1)
      if (last?.batch === one.batch) (last.taken as Taken[]).push(one)
      else this.#batches.push({ batch: one.batch, taken: [one] })
      this.#messages++
      this.#turn = one.turn
      this.#batch = one.batch
    }
    // A store that was mended has the facts and not the messages.
    // What cannot be read is in doubt: all that is remembered may be of an earlier link, and packet ids come again.
    const [last = 0, present = 0] = factIn(remembered, 'links', '[]') ?? [this.#turn, this.#turn]
    this.#links = [Math.min(last, this.#turn), Math.min(present, this.#turn)]
    this.#reusedIn = Math.min(factIn(remembered, 'reusedIn', '') ?? this.#batch, this.#batch)
    this.#unread.begin(factIn(remembered, 'acksRead'), this.#turn)
    this.#remembered = undefined
  }

  /** True while this session's packet ids come again too soon to tell anything. */
  get reuses(): boolean {
    return this.#stagedReuse || this.#batch - this.#reusedIn < COMMITS_KEPT
  }

  /** Whether this very delivery is on the disk already and only its acknowledgement was lost. */
  judge(heard: Heard): Delivery {
    this.#ready()
    if (heard.qos === 0 || heard.packetId === undefined) return 'first'
    const print = printOf(heard)
    const latest = this.#stagedByPacket.get(heard.packetId) ?? this.#known.get(heard.packetId)
    const same = latest?.print === print ? latest : this.#looks.get(keyOf({ packet: heard.packetId, print }))
    const [last, present] = this.#stagedLinks ?? this.#links
    if (same && (heard.dup || same.turn <= present)) {
      const isCertain = heard.dup && !this.reuses && same === latest && same.turn > last
      return isCertain ? 'again' : 'maybe'
    }
    return this.#unread.mayHold(print, heard.dup, this.#staged) ? 'maybe' : 'first'
  }

  #remember(one: Taken): void {
    this.#known.set(one.packet, one)
    this.#looks.set(keyOf(one), one)
    this.#unread.remember(one)
  }

  /** A message comes: told once, and in the order of messages and links, however often its transaction is tried. */
  came({ qos, packetId, dup }: Heard): void {
    if (qos > 0 && packetId !== undefined) this.#unread.came(packetId, dup, this.#awake())
  }

  /** A link of the session has ended: what comes from now on is of another one. */
  linkEnded(): void {
    this.#unread.linkEnded()
  }

  /** Puts a message into the transaction that is being made; at QoS 0 nothing is sent again. */
  stage(heard: Heard): void {
    if (heard.qos === 0 || heard.packetId === undefined) return
    this.#ready()
    this.#watch(heard.packetId, heard.dup)
    const turn = this.#turn + 1 + this.#staged.length
    const taken = { turn, batch: this.#batch + 1, packet: heard.packetId, print: printOf(heard) }
    this.#staged.push(taken)
    this.#stagedByPacket.set(heard.packetId, taken)
  }

  /** Looks at a message of the session that is not kept: it has a packet id too. */
  seen(heard: Heard): void {
    this.came(heard)
    const { qos, packetId, dup } = heard
    if (qos === 0 || packetId === undefined) return
    this.#ready()
    this.#watch(packetId, dup)
    this.#unkept.set(packetId, this.#turn)
  }

  #watch(packet: number, dup: boolean): void {
    const passed = this.#unkept.get(packet) ?? Number.NEGATIVE_INFINITY
    const isUsed = this.#known.has(packet) || this.#stagedByPacket.has(packet)
    if (!dup && (isUsed || this.#turn - passed < MESSAGES_KEPT)) this.#stagedReuse = true
  }

  /** Another link of the session begins with the transaction that is being made. */
  stageLink(): void {
    this.#ready()
    this.#stagedLinks = [this.#links[1], this.#turn]
  }

  /** What the transaction adds, and the first turn that is still remembered after it. */
  get staged(): {
    readonly taken: readonly Taken[]
    readonly keepFrom: number
    readonly facts: Record<string, string>
  } {
    const oldest = this.#batches[this.#surplus(this.#staged.length)]
    const keepFrom = oldest?.taken[0]?.turn ?? this.#staged[0]?.turn ?? 0
    const facts: Record<string, string> = this.#isForgotten ? { reusedIn: '', links: '[]', acksRead: '' } : {}
    if (this.#stagedReuse) facts.reusedIn = String(this.#batch + 1)
    if (this.#stagedLinks) facts.links = JSON.stringify(this.#stagedLinks)
    if (this.#unread.read !== undefined) facts.acksRead = String(this.#unread.read)
    return { taken: this.#staged, keepFrom, facts }
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

  /** The transaction is on the disk. */
  commit(): void {
    this.#links = this.#stagedLinks ?? this.#links
    this.#isForgotten = false
    if (this.#staged.length > 0) {
      this.#batch++
      this.#turn += this.#staged.length
      this.#batches.push({ batch: this.#batch, taken: this.#staged })
      for (const one of this.#staged) this.#remember(one)
      this.#unread.committed(this.#turn)
      if (this.#stagedReuse) this.#reusedIn = this.#batch
      this.#stagedReuse = false
      this.#messages += this.#staged.length
      for (const { taken } of this.#batches.splice(0, this.#surplus(0))) {
        this.#messages -= taken.length
        for (const old of taken) {
          if (this.#known.get(old.packet) === old) this.#known.delete(old.packet)
          if (this.#looks.get(keyOf(old)) === old) this.#looks.delete(keyOf(old))
          this.#unread.forget(old)
        }
      }
    }
    this.rollback()
  }

  /** The transaction was not made. */
  rollback(): void {
    this.#staged = []
    this.#stagedByPacket = new Map()
    this.#stagedLinks = undefined
  }

  /** The broker has no session any more. */
  forget(): void {
    this.rollback()
    this.#remembered = undefined
    this.#isForgotten = true
    this.#known = new Map()
    this.#looks = new Map()
    this.#batches = []
    this.#messages = 0
    this.#unkept.clear()
    this.#unread = new UnreadAcks()
    this.#links = [0, 0]
    this.#stagedReuse = false
    this.#reusedIn = Number.NEGATIVE_INFINITY
  }
}
