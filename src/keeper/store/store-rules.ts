import type { Entry } from '../../protocol/entry.ts'
import type { Taken } from '../session/taken.ts'

/** How entries add up; the store itself knows nothing of windows. */
export interface Rules<Kept> {
  /** Names the shape of `Kept`: a snapshot with another name is thrown away and built again from the entries. */
  readonly format: string
  /** Whether a snapshot is what it should be; one that is not is thrown away as well. */
  isKept(value: unknown): value is Kept
  start(bornIso: string): Kept
  apply(kept: Kept, entries: Iterable<Entry>): Kept
}

/** One transaction: everything here is on the disk together or not at all. */
export interface Batch<Kept> {
  readonly entries: readonly Entry[]
  /** The ledger after them; absent: no snapshot is due, the next start replays them. */
  readonly kept?: Kept
  /** Whether the snapshot is written in any case: when the house is quiet, at the end, and after an import. */
  readonly snapshot?: boolean
  /** Empties the list of the last session first. */
  readonly newSession?: boolean
  /** Messages of the session, and the first turn that is still remembered. */
  readonly taken?: { readonly taken: readonly Taken[]; readonly keepFrom: number }
  readonly facts?: Readonly<Record<string, string>>
}
