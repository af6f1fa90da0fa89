import { type Ledger, own } from '../ledger/apply.ts'
import type { Row } from './model.ts'

export interface OpenedRow {
  readonly row: Row
  /** Milliseconds since the epoch, oldest first. */
  readonly times: readonly number[]
}

/**
 * What opened at or after a time, newest first. The tablet's own ledger knows each opening; of what only a keeper has
 * heard, its reading gives the last one.
 */
export function openedSince(rows: readonly Row[], ledger: Ledger | undefined, since: number): readonly OpenedRow[] {
  const opened = rows.flatMap((row): OpenedRow[] => {
    const window = (ledger && own(ledger.marks, row.opening.mark)?.window) ?? []
    const heard = window.flatMap(({ entry }) =>
      entry.what === 'opened' && entry.how !== 'retained' ? [Date.parse(entry.until ?? entry.at)] : [],
    )
    const { reading } = row
    const told = reading.position === 'open' || reading.position === 'opened' ? reading.since : undefined
    const times = [...heard, ...(told === undefined ? [] : [Date.parse(told)])].filter(time => time >= since)
    return times.length > 0 ? [{ row, times: apart(times) }] : []
  })
  return opened.sort((a, b) => (b.times.at(-1) ?? 0) - (a.times.at(-1) ?? 0))
}

/** Words closer together than this are one opening here. */
const SAME_MILLISECONDS = 30_000

function apart(times: readonly number[]): readonly number[] {
  const kept: number[] = []
  for (const time of [...times].sort((a, b) => a - b)) {
    if (kept.length === 0 || time - kept.at(-1)! > SAME_MILLISECONDS) kept.push(time)
  }
  return kept
}
