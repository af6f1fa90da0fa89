import type { Entry } from '../protocol/entry.ts'
import type { Fold } from './fold.ts'

/** The end of the test that an opening is on, milliseconds since the epoch. */
export const testEnd = ({ onTest }: Fold, now: number): number | undefined =>
  onTest && now < onTest.until ? onTest.until : undefined

/**
 * A contact's message as it is kept: of an opening that is on test its words count nothing.
 * @returns undefined for a copy that the broker kept: while the test lasts it may be the test's
 */
export function asTested(entry: Entry, { onTest }: Fold): Entry | undefined {
  if (!onTest || !isWithin(entry, onTest)) return entry
  return entry.how === 'retained' ? undefined : { ...entry, how: 'tested' }
}

/** A word that waited at the broker is only known to be the test's where all of its time is. */
const isWithin = ({ at, until = at, how }: Entry, onTest: NonNullable<Fold['onTest']>): boolean =>
  Date.parse(until) < onTest.until && (how !== 'queued' || Date.parse(at) >= onTest.from)

/** A word of a test counts nothing; but the opening may have been opened all the same. */
export function foldTested(fold: Fold, { at }: Entry): Fold {
  if (fold.state !== 'closed' || fold.unheardAt !== undefined) return fold
  return { ...fold, unheardAt: fold.onTest?.until ?? Date.parse(at) }
}
