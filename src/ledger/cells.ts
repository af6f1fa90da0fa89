import { own } from '../text/own.ts'
import { DAY, iso } from '../text/time.ts'
import type { Ledger } from './apply.ts'
import { EMPTY_FOLD, type Fold, heardAt, type PastCell, tidy } from './fold.ts'
import type { Line } from './line.ts'

/** What the ledger knows of one opening's cells, for a forecast. */
export interface CellRecord {
  readonly mark: string
  readonly type?: string
  /** Sends of the present cell, and those up to the last that got through. */
  readonly sends: number
  readonly sendsThrough: number
  /** A try failed after `sendsThrough` and nothing has got through since: of itself, or in a test. */
  readonly failing: boolean
  readonly spent: boolean
  /** False where the cell was fitted before counting began: then it has sent more than was counted. */
  readonly counted: boolean
  /** When the cell was fitted, where somebody said so; milliseconds since the epoch. */
  readonly fittedAt?: number
  /** ISO 8601: sends are counted from here. */
  readonly countedSince?: string
  readonly past: readonly PastCell[]
  readonly fittedMillivolts?: number
  readonly line?: Line
  /** Natural openings by month, January first, and the times over which they were counted, up to the last word. */
  readonly months: readonly number[]
  readonly spans: readonly (readonly [from: number, to: number])[]
  /** Since when it has been silent: its last word or proof, or its cell's fitting. */
  readonly quietSince: number
}

/** A cell was counted from new if it was fitted no earlier than a day before counting began: people say the day. */
export const isCounted = (fittedAt: number | undefined, since: number): fittedAt is number =>
  fittedAt !== undefined && fittedAt >= since - DAY

/** False for a cell of which no word was heard, and of which nobody said that it was fitted: nothing is said of it. */
export const isCellKnown = (fold: Fold | undefined): boolean =>
  fold?.firstWordAt !== undefined || fold?.countedSince !== undefined

/** The cells of every opening on a cell, in the order of the policy; `now` in milliseconds. */
export function cellsOf(ledger: Ledger, now: number): readonly CellRecord[] {
  return Object.entries(ledger.policy)
    .filter(([, policy]) => policy.power === 'cell')
    .map(([mark, policy]) => {
      const fold = own(ledger.marks, mark)?.fold ?? EMPTY_FOLD
      const since = ledger.since === undefined ? now : Date.parse(ledger.since)
      const countedSince = Math.max(fold.countedSince ?? since, since)
      return tidy<CellRecord>({
        mark,
        type: fold.cellType ?? policy.cell,
        sends: fold.sends,
        sendsThrough: fold.sendsThrough,
        failing: fold.faint || fold.spent,
        spent: fold.spent,
        counted: isCounted(fold.countedSince, since),
        fittedAt: fold.countedSince,
        countedSince: iso(countedSince),
        past: fold.past.map(cell => ({ ...cell, counted: isCounted(cell.fittedAt, since) })),
        fittedMillivolts: fold.fittedMillivolts,
        line: fold.line,
        ...countedIn(fold, since, now),
      })
    })
}

/**
 * Natural openings and when they were counted. A dead cell counts nothing: the time from its last word to its end is
 * left out, as is the silence of the present one, of which nobody knows whether it is that of a dead cell.
 */
function countedIn(fold: Fold, since: number, now: number): Pick<CellRecord, 'months' | 'spans' | 'quietSince'> {
  const { habit, past } = fold
  let from = habit?.from ?? beganAt(fold, since)
  const spans: [number, number][] = []
  // openings of a time in which the months were not kept yet
  if (!habit && fold.openings > 0) from = Number.POSITIVE_INFINITY
  for (const { ended, lastAt, endedAt } of past) {
    if (ended !== 'failed' || lastAt === undefined || endedAt === undefined || endedAt <= from) continue
    if (lastAt > from) spans.push([from, lastAt])
    from = endedAt
  }
  const quietSince = quietSinceOf(fold, since)
  if (quietSince > from) spans.push([from, quietSince])
  return { months: habit?.months ?? NO_MONTHS, spans, quietSince: Math.min(now, quietSince) }
}

/** Since when a cell has been silent: its last word or proof, or its fitting, or (`since`) when counting began; milliseconds. */
export const quietSinceOf = (fold: Fold, since: number): number =>
  Math.max(heardAt(fold) ?? since, fold.countedSince ?? since)

/** A contact that was fitted later than counting began, before its first word, could not be heard until then. */
function beganAt({ past, countedSince, firstWordAt }: Fold, since: number): number {
  const fitted = past[0] ? past[0].fittedAt : countedSince
  const isLater = fitted !== undefined && fitted > since && fitted <= (firstWordAt ?? Number.POSITIVE_INFINITY)
  return isLater ? fitted : Math.min(since, firstWordAt ?? since)
}

const NO_MONTHS = new Array<number>(12).fill(0)
