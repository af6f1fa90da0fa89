import type { HouseState } from '../house/state.ts'
import type { Ledger } from '../ledger/apply.ts'
import type { Clock } from './clock.ts'
import type { LiveUntil } from './live-facts.ts'
import type { KeeperOptions } from './options.ts'
import type { Outcome } from './outcome.ts'
import type { TallyStore } from './store/store.ts'

export interface JournalOptions {
  readonly store: TallyStore<Ledger>
  /** The house as the store has it. */
  readonly state: HouseState
  readonly clock: Clock
  /** See `KeeperOptions`. */
  readonly waits: KeeperOptions['waits']
  /** Goes to the disk with the entries. */
  readonly liveUntil: LiveUntil
}

export interface JournalHooks {
  /** What the house has come to: told once its entries are on the disk. */
  played(outcome: Outcome): void
  /** The store refuses, or (undefined) takes entries again. */
  trouble(problem: string | undefined): void
}
