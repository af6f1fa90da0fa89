import type { Register } from '../../register/types.ts'
import type { RunningKeeper } from '../begin/keep-options.ts'
import type { LogCode } from '../log-codes.ts'

/** A house of the folder, as it is now. */
export interface KeptHouse {
  /** Name of the register's file without its ending, and of the folder of the house's tally. */
  readonly name: string
  /** The last good one; undefined: there was none yet. */
  readonly register: Register | undefined
  /** Undefined while it is not at work. */
  readonly keeper: RunningKeeper | undefined
  /** Why the house is not kept, in a sentence; it is tried again by itself. */
  readonly problem: string | undefined
  /** What `problem` is of. */
  readonly code: LogCode | undefined
}
