import type { Entry } from '../protocol/entry.ts'

/** Port: durable entries and the ledger they add up to. */
export interface Store<Kept> {
  /** The last ledger that was committed; undefined for a new store. */
  load(): Promise<Kept | undefined>
  /** Keeps entries and the ledger after them in one transaction. */
  commit(entries: readonly Entry[], ledger: Kept): Promise<void>
  /** Entries of one mark, oldest first, at most `limit` of the newest. */
  story(mark: string, limit: number): Promise<readonly Entry[]>
  close(): Promise<void>
}
