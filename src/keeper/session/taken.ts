import { createHash } from 'node:crypto'
import type { Heard } from '../../protocol/feed.ts'

/** What is remembered of one message: which transaction of the session it was in, and what it looked like. */
export interface Taken {
  readonly turn: number
  readonly batch: number
  readonly packet: number
  readonly print: string
}

/** Of a look under a packet id. */
export const keyOf = ({ packet, print }: Pick<Taken, 'packet' | 'print'>): string => `${packet} ${print}`

/** Equal for messages of the same topic and bytes. */
export const printOf = ({ topic, payload }: Heard): string =>
  createHash('sha256').update(topic).update('\0').update(payload).digest('base64')
