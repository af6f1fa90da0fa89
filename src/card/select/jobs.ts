import { byNeed, isNeededNow } from '../../budget/advice/next-cells.ts'
import { cellNeedOf } from '../../house/cell-need.ts'
import { DAY } from '../../text/time.ts'
import type { Row } from '../state/row.ts'

/** Cells that are due within this time are a job for now. */
const SOON_MILLISECONDS = 120 * DAY
const MOST_JOBS = 3

export interface Jobs {
  /** Cells to see to next, the most urgent first; three at most. */
  readonly due: readonly Row[]
  /** Due as well. */
  readonly more: number
  /** When the first of the others is due, milliseconds; undefined where nobody knows. */
  readonly nextAt: number | undefined
}

/** The cells to see to next, in the order of the forecast: what needs something now, and what soon will. */
export function jobsOf(rows: readonly Row[], now: number): Jobs {
  const cells = rows
    .filter(({ opening }) => opening.power === 'cell')
    .map(row => ({ row, need: cellNeedOf(row.reading) }))
    .sort((a, b) => byNeed(a.need, b.need))
  const isDue = ({ need }: (typeof cells)[number]) =>
    isNeededNow(need) || (need.changeBy ?? Number.POSITIVE_INFINITY) <= now + SOON_MILLISECONDS
  const due = cells.filter(isDue)
  return {
    due: due.slice(0, MOST_JOBS).map(({ row }) => row),
    more: Math.max(0, due.length - MOST_JOBS),
    // What is not due yet stands in the order of its days.
    nextAt: cells.find(each => !isDue(each))?.need.changeBy,
  }
}
