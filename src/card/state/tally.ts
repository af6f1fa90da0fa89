import type { Clocks } from '../../house/clock.ts'
import type { HouseState } from '../../house/state.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Heard } from '../../protocol/feed.ts'

/** A message, and when it came. */
export interface HeardWord extends Clocks {
  readonly message: Heard
}

/** From when to when nobody listened here, milliseconds; `from` is undefined where it is not known. */
export interface Gap {
  readonly from: number | undefined
  readonly to: number
}

/** What this tablet itself has heard. Of several pages of a tablet one keeps it, the others show it. */
export interface Tally {
  /** The register's `tally` whose store is open. */
  readonly name: string | undefined
  /** The house as counted here; undefined until the store has been read. */
  readonly counted: HouseState | undefined
  readonly isReading: boolean
  /** Whose turn it is to keep the tally has been found out. */
  readonly isDecided: boolean
  /** False while another page on this tablet keeps it. */
  readonly writes: boolean
  /** False when the browser keeps nothing: the tally then lasts until the next reload. */
  readonly isKept: boolean
  /** What came before the store was read, and since when the link was live then. */
  readonly early: readonly (HeardWord & { readonly liveSince: number | undefined })[]
  /** A time in which nobody listened, found before the store was read. */
  readonly gap: Gap | undefined
  /** Heard while another page kept the tally: what that one may not have kept before it went. */
  readonly unkept: readonly Entry[]
  /** False where what forecasts is missing. */
  readonly forecasts: boolean
  /** A word of a contact was heard on this page: the account may listen to them. */
  readonly hearsContacts: boolean
}

export const noTally: Tally = {
  name: undefined,
  counted: undefined,
  isReading: false,
  isDecided: false,
  writes: true,
  isKept: true,
  early: [],
  gap: undefined,
  unkept: [],
  forecasts: true,
  hearsContacts: false,
}

/** It is clear that this page keeps the tally. */
export const keeps = ({ writes, isDecided }: Tally): boolean => writes && isDecided

/** Anything was ever heard or said here. */
export const hasEntries = ({ counted }: Tally): boolean => (counted?.ledger.count ?? 0) > 0
