/** What the ledger must know of one opening to count it and to speak of it. */
export interface Policy {
  readonly reports: 'openings' | 'both'
  readonly power: 'cell' | 'mains'
  readonly keepAliveSeconds: number
  /** Power to message, seconds. */
  readonly bootSeconds: number
  readonly bounceSeconds: number
  readonly repeatSeconds?: number
  readonly provenWithinDays: number
  readonly takeAsClosedAfterMinutes: number | null
  readonly replaceBelow: number
  /** ISO date from the register: when the first cell was fitted. */
  readonly cellFitted?: string
  /** Cell type in the register; absent on mains. */
  readonly cell?: string
  /** Revision of the header that the register gives now. */
  readonly revision?: string
  /** Median openings of a new cell by the model; absent on mains. */
  readonly modelSends?: number
  /** Earlier marks whose history belongs to this one. */
  readonly was?: readonly string[]
}
export type HousePolicy = Readonly<Record<string, Policy>>
