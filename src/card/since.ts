import { type Ledger, own } from '../ledger/apply.ts'
import type { Timing } from './draw/story.ts'
import type { Row } from './model.ts'

export interface OpenedRow {
  readonly row: Row
  /** Milliseconds since the epoch, oldest first. */
  readonly times: readonly number[]
  /** Only where no opening is known: when it was heard shut. */
  readonly shutAt?: number
}

/**
 * What opened at or after a time, newest first. The tablet's own ledger knows each opening; of what only a keeper has
 * heard, its reading gives the last word alone.
 */
export function openedSince(rows: readonly Row[], ledger: Ledger | undefined, since: number): readonly OpenedRow[] {
  const within = (iso: string | undefined) => (iso === undefined ? [] : [Date.parse(iso)].filter(at => at >= since))
  const opened = rows.flatMap((row): OpenedRow[] => {
    const { opening, reading } = row
    const { position, last } = reading
    const window = (ledger && own(ledger.marks, opening.mark)?.window) ?? []
    const known = window.flatMap(({ entry }) =>
      entry.what === 'opened' && entry.how !== 'retained' ? within(entry.until ?? entry.at) : [],
    )
    const isOpen = position === 'open' || position === 'opened'
    const told = [
      ...(isOpen ? within(reading.since) : []),
      // A contact that reports openings alone proves itself by nothing else; while open, by its repeats too.
      ...(opening.reports === 'openings' && !(isOpen && isBefore(reading.since, reading.provenAt))
        ? within(reading.provenAt)
        : []),
    ]
    const lastAt = last && last.how !== 'retained' ? within(last.until ?? last.at) : []
    const isOpening = last?.word === 'opened' || (last?.word === 'rest' && opening.reports === 'openings')
    const times = apart([...known, ...told], opening.timing)
    if (times.length > 0) return [{ row, times }]
    if (isOpening && lastAt.length > 0) return [{ row, times: lastAt }]
    return last?.word === 'closed' && lastAt.length > 0 ? [{ row, times: [], shutAt: lastAt[0]! }] : []
  })
  return opened.sort((a, b) => newest(b) - newest(a))
}

const isBefore = (a: string | undefined, b: string | undefined): boolean => a !== undefined && b !== undefined && a <= b

/** When it was last heard to open, else to shut. */
export const newest = ({ times, shutAt }: OpenedRow): number => times.at(-1) ?? shutAt ?? 0

/** Words closer together than this are one opening here, or than a contact's bounce and repeats. */
const SAME_MILLISECONDS = 30_000

function apart(times: readonly number[], { bounceSeconds = 0, repeatSeconds = 0 }: Timing): readonly number[] {
  const same = Math.max(SAME_MILLISECONDS, bounceSeconds * 1000, repeatSeconds * 1100)
  return [...times].sort((a, b) => a - b).filter((time, index, sorted) => !(time - sorted[index - 1]! <= same))
}
