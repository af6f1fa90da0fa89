import type { Reading } from '../../protocol/reading.ts'
import type { Register } from '../../register/types.ts'
import type { RunningKeeper } from '../begin/keep-options.ts'
import type { LogCode } from '../log-codes.ts'

/** What is wrong with a house, in a sentence, and what that is of. */
export interface Trouble {
  readonly text: string
  readonly code: LogCode
}

/** What was last known of a house whose keeper is not at work. */
export interface LastKnown {
  readonly register: Register
  readonly readings: ReadonlyMap<string, Reading>
  /** When the broker last took the keeper's state, milliseconds since the epoch. */
  readonly beatAt: number | undefined
}

/** A house of the folder, as it is now. */
export interface KeptHouse {
  /** Name of the register's file without its ending, and of the folder of the house's tally. */
  readonly name: string
  /** The last good one; undefined: there was none yet. */
  readonly register: Register | undefined
  /** Undefined while it is not at work. */
  readonly keeper: RunningKeeper | undefined
  /** Where it is not: as it was when a keeper was last. */
  readonly last: LastKnown | undefined
  /** Why it is not, or is by an older register; it is tried again by itself. */
  readonly trouble: Trouble | undefined
}

/** A house whose register was taken out of the folder, or renamed, while the others were kept. */
export interface GoneHouse extends Pick<KeptHouse, 'name' | 'register'> {
  /** Milliseconds since the epoch. */
  readonly at: number
}

/** As a keeper at work knows a house, where it has something to tell, or as it was before. */
export function lastKnown({ keeper, last }: Pick<KeptHouse, 'keeper' | 'last'>): LastKnown | undefined {
  const { register, readings } = keeper?.latest() ?? {}
  if (!keeper || !register || !readings?.size) return last
  return { register, readings, beatAt: keeper.vitals().beat?.at ?? last?.beatAt }
}

/** What is known of a house. What was known of another tally, which its register named before, is of another house. */
export function knownOf(house: Pick<KeptHouse, 'keeper' | 'last' | 'register'>): LastKnown | undefined {
  const known = lastKnown(house)
  const { tally = known?.register.tally } = house.register ?? {}
  return known?.register.tally === tally ? known : undefined
}
