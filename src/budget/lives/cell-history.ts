import type { UnknownBefore } from './ages.ts'
import type { Cold } from './cold.ts'
import type { Lifetime } from './lifetime.ts'
import type { Volts } from './measured.ts'
import { type RateInput, rateOf, silenceChance } from './rate.ts'
import { FAILED_JOIN } from './silence.ts'

/** One earlier cell of an opening. `kind` and `modelMedian` only where they differ from those of the present cell. */
export type PastCell = Lifetime & {
  readonly kind?: string
  readonly modelMedian?: number
  readonly unknownBefore?: UnknownBefore
}

/** The cell in one opening now, and those before it. */
export interface CellHistory extends RateInput {
  readonly mark: string
  /** Cells of one kind (cell and load) share what is learned of them; any text. */
  readonly kind: string
  /** Median sends of a new cell by the model. */
  readonly modelMedian: number
  /** Whether a count is known in the trade for this kind, at room temperature. */
  readonly countKnown: boolean
  /** The model leaves what is known of this cell: `modelMedian` is a lower bound. */
  readonly atLeast?: boolean
  /** It has sent though the model says that its load never starts: `modelMedian` is a guess. */
  readonly modelRefuted?: boolean
  /** Sends that one opening costs; default 1. */
  readonly sendsPerOpening?: number
  /** Sends of the present cell since the count began. */
  readonly sends: number
  /**
   * Where the contact is colder at one time of the year than at another: `modelMedian` and the lives of `past` are then
   * sends at room temperature.
   */
  readonly cold?: Cold
  /** In the cold, all the year or in winter: the same cell if the cold counts as each of `COLD_WEIGHTS` has it. */
  readonly byWeight?: readonly CellHistory[]
  /** Sends of the present cell before the count began; left out where it has been counted from new. */
  readonly unknownBefore?: UnknownBefore
  readonly past: readonly PastCell[]
  /** Measured under load by its module. */
  readonly volts?: Volts
  /** Days since its last word or its fitting, whichever is later; default 0. As `observedDays`, of the mean season. */
  readonly quietDays?: number
  /** Its last try failed of itself, and nothing has got through since: it may be the cell. */
  readonly failing?: boolean
  /** It has failed a test: its life stands at the end of `past`, and it has nothing left. */
  readonly ended?: boolean
  /** Chance of the next send under which a cell is to be changed, above 0 and below 1. */
  readonly replaceBelow: number
}

/** Chance of so long a silence if the cell runs. */
export function silenceOf(cell: CellHistory): number {
  const rate = rateOf(cell)
  const quiet = rate ? silenceChance(rate, cell.quietDays ?? 0) : 1
  return cell.failing ? Math.min(quiet, FAILED_JOIN) : quiet
}

/** What it has given, in the sends of its model. */
export const sendsGiven = ({ sends, cold }: CellHistory): number => cold?.worn ?? sends

/** Too silent, or failed: it is neither counted as a running life nor moved before it has been tested. */
export const isDoubtful = (cell: CellHistory): boolean => cell.ended === true || silenceOf(cell) < DOUBTFUL

const DOUBTFUL = 0.05
