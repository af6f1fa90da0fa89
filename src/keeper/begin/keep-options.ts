import type { HouseState } from '../../house/state.ts'
import type { Links } from '../../link/node/links.ts'
import type { Register } from '../../register/types.ts'
import type { Tell } from '../log-codes.ts'
import type { Health, Vitals } from '../publish/verdict.ts'
import type { Backups } from '../repair/backup.ts'

/** What a keeper is given, and what else it shall do. */
export interface KeepOptions {
  readonly register: Register
  /** Folder of the tally; made when it is not there. */
  readonly folder: string
  /** The way to the house's broker: the keeper's own link, whose session the broker keeps, and others beside it. */
  readonly links: Links
  /** Ends the keeper. */
  readonly signal: AbortSignal
  readonly tell: Tell
  /** Milliseconds since the epoch; default `Date.now`. */
  now?(): number
  /** The keeper has begun and may be asked, though the broker may not be there yet; undefined: no more. */
  opened?(keeper: RunningKeeper | undefined): void
  /** Once: gives sleeping contacts whose topic the broker has forgotten their retained rest word back. */
  readonly giveRestWords?: boolean
  /** Begins a new tally although the broker holds readings of an older one. */
  readonly beginAnew?: boolean
  /** Also tells of the house as devices of the Homie convention 5. */
  readonly homie?: boolean
  /** Where copies of the tally go every day, and how many stay. */
  readonly backups?: Backups
}

/** A keeper at work. */
export interface RunningKeeper {
  /** The house as it is on the disk: `state().ledger` is what `read` takes. */
  state(): HouseState
  /** As `state`, of the last word, beat or time that was due: it costs nothing. */
  latest(): HouseState
  /** When the tally was last added to, milliseconds since the epoch. */
  newest(): number
  /** Whether it is at work, without asking the disk; `health` has all the figures. */
  vitals(): Vitals
  health(): Health
  /** Goes on with an edited register; another address of the broker and other topics of the tally need a new start. */
  adopt(register: Register): void
  /**
   * An edit that cannot be used: the register before stays, and the keeper's state says the problem.
   * @param isTold - the log has it, in words that onlookers of the house need not know
   */
  refuseEdit(problem: string, isTold?: boolean): void
}
