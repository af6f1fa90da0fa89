import * as z from 'zod/mini'
import { amount, map, mark, oneOf, optional, type Plain, some, text } from './parts.ts'

/** Most earlier marks of an opening, and most sides of a house, that are read. */
export const MOST_NAMES = 64

export const policySchema = map({
  reports: oneOf(['openings', 'both']),
  power: oneOf(['cell', 'mains']),
  keepAliveSeconds: amount,
  /** Power to message, seconds. */
  bootSeconds: amount,
  bounceSeconds: amount,
  repeatSeconds: optional(amount),
  provenWithinDays: amount,
  takeAsClosedAfterMinutes: z.nullable(amount),
  replaceBelow: amount,
  /** ISO date from the register: when the first cell was fitted. */
  cellFitted: optional(text()),
  /** Cell type in the register; absent on mains. */
  cell: optional(text()),
  /** Revision of the header that the register gives now. */
  revision: optional(text()),
  /** Median openings of a new cell by the model; absent on mains. */
  modelSends: optional(amount),
  /** Earlier marks whose history belongs to this one. */
  was: optional(some(mark, MOST_NAMES)),
})

/** What the ledger must know of one opening to count it and to speak of it. */
export interface Policy extends Plain<typeof policySchema> {
  /** IANA time zone of the house, whose months are counted; published once for the house. Default: UTC. */
  readonly timezone?: string
}
/** The policy of every opening, by mark, in the order of the register. */
export type HousePolicy = Readonly<Record<string, Policy>>
