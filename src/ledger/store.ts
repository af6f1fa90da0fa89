import type { Entry } from '../protocol/entry.ts'

/** Port: durable entries and the ledger they add up to. */
export interface Store<Kept> {
  /** The last ledger that was committed; undefined for a new store, or where it can no longer be read. */
  load(): Promise<Kept | undefined>
  /** All that was kept, of each mark the oldest first: what a ledger is counted from that cannot be read. */
  all(): Promise<readonly Entry[]>
  /** Keeps entries and the ledger after them in one transaction. */
  commit(entries: readonly Entry[], ledger: Kept): Promise<void>
  /** Entries of one mark, oldest first, at most `limit` of the newest. */
  story(mark: string, limit: number): Promise<readonly Entry[]>
  close(): Promise<void>
}
