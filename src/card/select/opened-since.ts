import type { Ledger } from '../../ledger/apply.ts'
import { own } from '../../text/own.ts'
import { storyOf } from '../draw/story.ts'
import { type Span, spanOf } from '../state/keeper.ts'
import { mayBeOpen, type Row } from '../state/row.ts'

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
  toldOf: (mark: string) => readonly Span[] = () => [],
): readonly OpenedRow[] {
  const within = (iso: string | undefined) => (iso === undefined ? [] : [Date.parse(iso)].filter(at => at >= since))
  const opened = rows.flatMap((row): OpenedRow[] => {
    const { opening, reading } = row
    const { last } = reading
    const { window = [], base } = (ledger && own(ledger.marks, opening.mark)) ?? {}
    const entries = window.map(({ entry }) => entry)
    const { moments } = storyOf(entries, since, opening.policy, base)
    const known = moments.flatMap(({ what, at, until = at }) => (what === 'opening' && until >= since ? [until] : []))
    const isOpen = mayBeOpen(row)
    const told = toldOf(opening.mark)
    const inReading = [
      ...(isOpen ? within(reading.since) : []),
      // A contact that reports openings alone proves itself by nothing else; while open, by its repeats too.
      ...(opening.reports === 'openings' && !(isOpen && isBefore(reading.since, reading.provenAt))
        ? within(reading.provenAt)
        : []),
    ]
    const lastAt = last && last.how !== 'retained' ? within(last.until ?? last.at) : []
    const isOpeningWord = (what: string) => what === 'opened' || (what === 'rest' && opening.reports === 'openings')
    const isOpening = last && isOpeningWord(last.word)
    // Readings tell of the same words once more.
    const heard = entries.flatMap(({ what, how, at, until }) =>
      isOpeningWord(what) && how !== 'retained' ? [spanOf(at, until)] : [],
    )
    // The newest that was told is the one that the reading tells of, by the keeper's own clock.
    const others = told.length > 0 ? told.filter(([, until]) => until >= since) : inReading.map((at): Span => [at, at])
    const more = others.filter(span => !isAmong(heard, span)).map(([, until]) => until)
    const times = [...known, ...more].sort((a, b) => a - b)
    if (times.length > 0) return [{ row, times }]
    if (isOpening && lastAt.length > 0) return [{ row, times: lastAt }]
    return last?.word === 'closed' && lastAt.length > 0 ? [{ row, times: [], shutAt: lastAt[0]! }] : []
  })
  return opened.sort((a, b) => newest(b) - newest(a))
}

const isBefore = (a: string | undefined, b: string | undefined): boolean => a !== undefined && b !== undefined && a <= b

/** When it was last heard to open, else to shut. */
export const newest = ({ times, shutAt }: OpenedRow): number => times.at(-1) ?? shutAt ?? 0

/** What a keeper told and an entry heard here that are no farther apart are of one word: clocks of a house differ. */
const SAME_MILLISECONDS = 120_000

const isAmong = (spans: readonly Span[], [from, until]: Span): boolean =>
  spans.some(each => each[0] - SAME_MILLISECONDS <= until && from - SAME_MILLISECONDS <= each[1])
