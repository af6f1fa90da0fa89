import { createHash, randomBytes } from 'node:crypto'
import type { Ledger } from '../../ledger/apply.ts'
import { factIn } from '../store/facts.ts'
import type { TallyStore } from '../store/store.ts'

const SIGNS = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz'
/** Signs that hold 128 bits; every broker takes up to 23 letters and digits (MQTT-3.1.3-5). */
const LENGTH = 22

function secretId(): string {
  let left = BigInt(`0x${randomBytes(16).toString('hex')}`)
  let id = ''
  for (let n = 0; n < LENGTH; n++) {
    id += SIGNS[Number(left % 62n)]
    left /= 62n
  }
  return id
}

/** The client id of earlier versions: whoever knew the tally's topic could compute it, and take the session. */
export const olderClientId = (tally: string): string =>
  `sash${createHash('sha256').update(tally).digest('hex').slice(0, 19)}`

/** Where a store stands that an earlier version made: its session must be emptied, or only be ended, or all is done. */
export type OlderSession = 'waits' | 'moved' | undefined

export interface SessionName {
  readonly clientId: string
  readonly older: OlderSession
}

/**
 * The keeper's name at the broker: 128 random bits that are made at its first start and kept in its store, so that nobody
 * else can take its session. One that cannot be read is made anew: the broker knows no session of it, and what was shut
 * is not certain.
 * @throws StoreProblem when it cannot be kept
 */
export function sessionName(store: TallyStore<Ledger>): SessionName {
  const known = factIn(store, 'clientId')
  if (known !== undefined) return { clientId: known, older: factIn(store, 'olderSession') || undefined }
  const clientId = secretId()
  const isOlder = ['lastLive', 'topics'].some(name => store.fact(name) !== undefined)
  const older = isOlder && store.fact('clientId') === undefined ? 'waits' : undefined
  // What is known of an older session holds until it is moved.
  const fresh = older ? {} : { session: '', seal: '' }
  store.commitBatch({ entries: [], facts: { clientId, olderSession: older ?? '', ...fresh } })
  return { clientId, older }
}

/** The broker has been given a session under the store's own name. */
export function sessionBegun(store: TallyStore<Ledger>): void {
  store.commitBatch({ entries: [], facts: { session: 'begun' } })
}

/** What waited in the older session is on the disk, and a new one under the store's own name collects what comes. */
export function sessionMoved(store: TallyStore<Ledger>): void {
  const facts = { olderSession: 'moved', reusedIn: '', links: '[]', seal: '', session: 'begun' }
  store.commitBatch({ entries: [], newSession: true, facts })
}

/** The older session is no more. */
export function olderSessionEnded(store: TallyStore<Ledger>): void {
  store.commitBatch({ entries: [], facts: { olderSession: '' } })
}
