import type { CellNeed } from '../budget/advice/next-cells.ts'
import { isTooSilent } from '../ledger/read.ts'
import type { Reading } from '../protocol/reading.ts'

/** What a reading asks for its cell: one rule for the wall and for the page of houses. */
export function cellNeedOf({ doubts, unheardOnWalk, left }: Reading): CellNeed {
  const changeBy = left?.changeBy === undefined ? undefined : Date.parse(left.changeBy)
  // That nobody knows yet is no job.
  const known = isTooSilent(left) ? doubts : doubts.filter(doubt => doubt !== 'overdue')
  return { doubts: known, unheardOnWalk, changeBy, next: left?.next }
}
