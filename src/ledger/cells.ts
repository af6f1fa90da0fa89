import { own } from '../text/own.ts'
import { DAY, iso } from '../text/time.ts'
import type { Ledger } from './apply.ts'
import { EMPTY_FOLD, type PastCell, tidy } from './fold.ts'

/** What the ledger knows of one opening's cells, for a forecast. */
export interface CellRecord {
  readonly mark: string
  readonly type?: string
  /** Sends of the present cell, and those up to the last that got through. */
  readonly sends: number
  readonly sendsThrough: number
  /** A try failed after `sendsThrough` and nothing has got through since. */
  readonly failing: boolean
  /** False where the cell was fitted before counting began: then it has sent more than was counted. */
  readonly counted: boolean
  /** When the cell was fitted, where somebody said so; milliseconds since the epoch. */
  readonly fittedAt?: number
  /** ISO 8601: sends are counted from here. */
  readonly countedSince?: string
  readonly past: readonly PastCell[]
  readonly openings: number
  /** Days over which `openings` were counted. */
  readonly observedDays: number
  /** Days since the contact last showed itself, by an opening or a proof; absent: never. */
  readonly quietDays?: number
}

/** A cell was counted from new if it was fitted no earlier than a day before counting began: people say the day. */
const isCounted = (fittedAt: number | undefined, since: number): boolean =>
  fittedAt !== undefined && fittedAt >= since - DAY

/** The cells of every opening on a cell, in the order of the policy; `now` in milliseconds. */
export function cellsOf(ledger: Ledger, now: number): readonly CellRecord[] {
  return Object.entries(ledger.policy)
    .filter(([, policy]) => policy.power === 'cell')
    .map(([mark, policy]) => {
      const fold = own(ledger.marks, mark)?.fold ?? EMPTY_FOLD
      const since = ledger.since === undefined ? now : Date.parse(ledger.since)
      const countedSince = Math.max(fold.countedSince ?? since, since)
      const heard = Math.max(fold.openedAt ?? -Infinity, fold.provenAt ?? -Infinity)
      return tidy<CellRecord>({
        mark,
        type: fold.cellType ?? policy.cell,
        sends: fold.sends,
        sendsThrough: fold.sendsThrough,
        failing: fold.faint || fold.spent,
        counted: isCounted(fold.countedSince, since),
        fittedAt: fold.countedSince,
        countedSince: iso(countedSince),
        past: fold.past.map(cell => ({ ...cell, counted: isCounted(cell.fittedAt, since) })),
        openings: fold.openings,
        observedDays: Math.max(0, (now - Math.min(since, fold.firstWordAt ?? since)) / DAY),
        quietDays: heard === -Infinity ? undefined : Math.max(0, (now - heard) / DAY),
      })
    })
}
