import type { Ledger } from '../ledger/apply.ts'
import { isCellKnown } from '../ledger/cells.ts'
import { mayBeOpen } from '../ledger/headline.ts'
import { isTooSilent } from '../ledger/read.ts'
import type { Alert } from '../protocol/alert.ts'
import type { Reading } from '../protocol/reading.ts'
import type { AlertSettings } from '../register/types.ts'
import { own } from '../text/own.ts'
import { MINUTE } from '../text/time.ts'

/** Stands for the gap of an opening whose topic the broker does not let the keeper read. */
export const UNREADABLE = 'unreadable'

/** What alerts are worked out from; `now` is milliseconds since the epoch. */
export interface Known {
  readonly ledger: Ledger
  readonly readings: readonly Reading[]
  /** Marks whose topic the broker does not let the keeper read. */
  readonly unreadable: ReadonlySet<string>
  readonly now: number
}

const isHeard = ({ mark, unheard }: Reading, unreadable: Known['unreadable']): boolean =>
  unheard === undefined && !unreadable.has(mark)

/** Openings that may be open; of one that could not be heard, or is on test, nobody knows. */
export const openOf = ({ readings, unreadable }: Known): readonly Reading[] =>
  readings.filter(reading => mayBeOpen(reading) && reading.onTestUntil === undefined && isHeard(reading, unreadable))

/** Marks of openings that may be open and are on test: nothing of that is told before the test is over. */
export const testedOf = ({ readings, unreadable }: Known): readonly string[] =>
  readings
    .filter(reading => mayBeOpen(reading) && reading.onTestUntil !== undefined && isHeard(reading, unreadable))
    .map(({ mark }) => mark)

/** Alerts that are told once for what they are about: by mark the opening, the cell, the silence or the gap. */
type Reason = readonly [what: Alert, about: ReadonlyMap<string, string>]

export function reasonsOf(known: Known, { openLongMinutes }: AlertSettings): readonly Reason[] {
  const { ledger, readings, unreadable, now } = known
  const longMilliseconds = (openLongMinutes ?? Number.POSITIVE_INFINITY) * MINUTE
  const about = (some: readonly Reading[], of: (reading: Reading) => string | undefined) =>
    new Map(some.map(reading => [reading.mark, of(reading) ?? '']))
  const isLong = ({ since }: Reading) => since !== undefined && now - Date.parse(since) >= longMilliseconds
  const foldOf = ({ mark }: Reading) => own(ledger.marks, mark)?.fold
  const isDue = (reading: Reading) =>
    (reading.doubts.includes('low') || reading.doubts.includes('spent')) && isCellKnown(foldOf(reading))
  // Until when a test hides openings is known at its end.
  const isGap = (reading: Reading) =>
    unreadable.has(reading.mark) || (reading.unheard !== undefined && reading.onTestUntil === undefined)
  const isOverdue = (reading: Reading) =>
    reading.doubts.includes('overdue') && isTooSilent(reading.left) && isHeard(reading, unreadable)
  return [
    ['open-long', about(openOf(known).filter(isLong), ({ since }) => since)],
    ['cell-due', about(readings.filter(isDue), reading => foldOf(reading)?.countedSince?.toString())],
    ['overdue', about(readings.filter(isOverdue), ({ last }) => last?.at)],
    ['unheard', about(readings.filter(isGap), ({ unheard }) => unheard ?? UNREADABLE)],
  ]
}
