import type { Entry } from '../protocol/entry.ts'

/** Port: durable entries and the ledger they add up to. */
export interface Store<Kept> {
  /** The last ledger that was committed; undefined for a new store, or where it can no longer be read. */
  load(): Promise<Kept | undefined>
  /** All that was kept, in the order in which it was counted; of what an earlier version kept, each mark's. */
  all(): Promise<readonly Entry[]>
  /** When counting began, ISO 8601, also where the rest of the ledger can no longer be read; undefined: nobody knows. */
  since(): Promise<string | undefined>
  /** Keeps entries and the ledger after them in one transaction. */
  commit(entries: readonly Entry[], ledger: Kept): Promise<void>
  close(): Promise<void>
}
