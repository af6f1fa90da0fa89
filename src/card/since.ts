import { type Ledger, own } from '../ledger/apply.ts'
import { storyOf } from './draw/story.ts'
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
 * @param toldOf - when a mark was heard to open on this page by way of its readings
 */
export function openedSince(
  rows: readonly Row[],
  ledger: Ledger | undefined,
  since: number,
  toldOf: (mark: string) => readonly number[] = () => [],
): readonly OpenedRow[] {
  const within = (iso: string | undefined) => (iso === undefined ? [] : [Date.parse(iso)].filter(at => at >= since))
  const opened = rows.flatMap((row): OpenedRow[] => {
    const { opening, reading } = row
    const { position, last } = reading
    const { window = [], base } = (ledger && own(ledger.marks, opening.mark)) ?? {}
    const entries = window.map(({ entry }) => entry)
    const { moments } = storyOf(entries, since, opening.policy, base)
    const known = moments.flatMap(({ what, at, until = at }) => (what === 'opening' && until >= since ? [until] : []))
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
    // Readings tell of the same words once more.
    const heard = window.map(({ entry }) => Date.parse(entry.until ?? entry.at))
    const seen = toldOf(opening.mark).filter(time => time >= since && !isAmong(heard, time))
    const more = told.filter(time => !isAmong([...heard, ...seen], time))
    const times = [...known, ...seen, ...more].sort((a, b) => a - b)
    if (times.length > 0) return [{ row, times }]
    if (isOpening && lastAt.length > 0) return [{ row, times: lastAt }]
    return last?.word === 'closed' && lastAt.length > 0 ? [{ row, times: [], shutAt: lastAt[0]! }] : []
  })
  return opened.sort((a, b) => newest(b) - newest(a))
}

const isBefore = (a: string | undefined, b: string | undefined): boolean => a !== undefined && b !== undefined && a <= b

/** When it was last heard to open, else to shut. */
export const newest = ({ times, shutAt }: OpenedRow): number => times.at(-1) ?? shutAt ?? 0

/** Times of a reading and of an entry that are no farther apart are of one word. */
const SAME_MILLISECONDS = 30_000

const isAmong = (times: readonly number[], time: number): boolean =>
  times.some(each => Math.abs(each - time) <= SAME_MILLISECONDS)
