import type { Ledger } from '../ledger/apply.ts'
import type { Feed } from '../protocol/feed.ts'
import type { Register } from '../register/types.ts'
import type { Clock } from './clock.ts'
import type { Forecast } from './forecast/forecast.ts'
import type { Tell } from './log-codes.ts'
import type { Backups } from './repair/backup.ts'
import type { TallyStore } from './store/store.ts'

/** What is known of the broker before this keeper's first link. */
export interface BrokerBefore {
  /** It is on this machine, and goes down with it. */
  readonly isHere: boolean
  /** Nothing listened at its address since this program began. */
  readonly wasDown: boolean
}

export interface KeeperOptions {
  readonly register: Register
  readonly store: TallyStore<Ledger>
  /** The ledger after the last entry of the store, under this register. */
  readonly ledger: Ledger
  readonly feed: Feed
  readonly clock: Clock
  /** Drawn anew at each start; `[0-9a-z]{1,36}`. */
  readonly keeper: string
  readonly startedIso: string
  readonly tell: Tell
  /** Default: it is elsewhere, and nothing is known of it. */
  readonly broker?: BrokerBefore
  /** Default: the thread of this process. */
  readonly forecast?: Forecast
  /** A commit waits for the disk beside the event loop; default: in it, which leaves no step to another clock. */
  readonly waits?: 'beside'
  /** Once: gives sleeping contacts whose topic the broker has forgotten their retained rest word back. */
  readonly giveRestWords?: boolean
  /** Where the store lies, for a look at its disk and its daily backup; absent: nobody looks. */
  readonly upkeep?: { readonly folder: string; readonly backups?: Backups }
}
