import { createHash } from 'node:crypto'
import type { Heard } from '../ledger/types.ts'
import { TAKEN_LENGTH, type Taken } from './store.ts'

/**
 * The last 100 committed messages of one broker session.
 * DUP alone is never a duplicate: a publisher may have sent it again to the broker, or the first copy never came.
 * A redelivery has DUP and the packet id, topic and bytes of a message that was committed (MQTT 4.4.0-1: unacknowledged
 * messages are sent again with their packet ids).
 * A broker that gives an acknowledged message's packet id to another one among the last 100 cannot be told apart from
 * one that sends again: from then on that session counts at least once.
 */
export interface SessionTaken {
  /** Oldest first, at most 100. */
  readonly list: readonly Taken[]
  /** The broker gives packet ids out again at once. */
  readonly reuses: boolean
}

export const NO_TAKEN: SessionTaken = { list: [], reuses: false }

const printOf = ({ topic, payload }: Heard): string =>
  createHash('sha256').update(topic).update('\0').update(payload).digest('base64')

/** What is to be remembered of a message; undefined at QoS 0, which is never sent again. */
export function takenOf(heard: Heard, session: SessionTaken): Taken | undefined {
  if (heard.qos === 0 || heard.packetId === undefined) return undefined
  return { turn: (session.list.at(-1)?.turn ?? -1) + 1, packet: heard.packetId, print: printOf(heard) }
}

/** True when this very delivery was committed before and only its acknowledgement was lost. */
export function isRedelivery(heard: Heard, session: SessionTaken): boolean {
  if (!heard.dup || heard.qos === 0 || heard.packetId === undefined || session.reuses) return false
  const same = session.list.findLast(taken => taken.packet === heard.packetId)
  return same !== undefined && same.print === printOf(heard)
}

/** The list after one more committed message. */
export function withTaken(session: SessionTaken, heard: Heard, taken: Taken): SessionTaken {
  const again = !heard.dup && session.list.some(({ packet }) => packet === taken.packet)
  return { list: [...session.list.slice(1 - TAKEN_LENGTH), taken], reuses: session.reuses || again }
}
