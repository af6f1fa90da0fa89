import { DAY } from '../../text/time.ts'
import type { Row } from '../state/row.ts'

/** Cells that are due within this time are a job for now. */
const SOON_MILLISECONDS = 120 * DAY
const MOST_JOBS = 3

export interface Jobs {
  /** Cells to change next, the most urgent first; three at most. */
  readonly due: readonly Row[]
  /** Due as well. */
  readonly more: number
  /** When the first of the others is due, milliseconds; undefined where nobody knows. */
  readonly nextAt: number | undefined
}

/** The cells to change next: those that failed, that are low, or that soon will be. */
export function jobsOf(rows: readonly Row[], now: number): Jobs {
  const cells = rows.filter(({ opening }) => opening.power === 'cell')
  const isDue = (row: Row) => weight(row) < 3 || changeAt(row) <= now + SOON_MILLISECONDS
  const due = cells.filter(isDue)
  const nextAt = Math.min(...cells.filter(row => !isDue(row)).map(changeAt))
  const sorted = due.sort((a, b) => weight(a) - weight(b) || changeAt(a) - changeAt(b))
  return {
    due: sorted.slice(0, MOST_JOBS),
    more: Math.max(0, due.length - MOST_JOBS),
    nextAt: Number.isFinite(nextAt) ? nextAt : undefined,
  }
}

function weight({ reading: { doubts } }: Row): number {
  const order = ['spent', 'faint', 'low'] as const
  const place = order.findIndex(doubt => doubts.includes(doubt))
  return place < 0 ? order.length : place
}

const changeAt = ({ reading: { left } }: Row): number =>
  left?.changeBy === undefined ? Number.POSITIVE_INFINITY : Date.parse(left.changeBy)
