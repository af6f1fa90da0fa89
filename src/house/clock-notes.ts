import type { Ledger } from '../ledger/apply.ts'
import { CLOCK_SET, isDoubtful } from '../ledger/clock-set.ts'
import { type Entry, KEEPER_NAME } from '../protocol/entry.ts'
import { iso, MINUTE } from '../text/time.ts'

/**
 * The clock was set: for every opening that was heard or looked at while it was wrong, a note of the time in which that
 * happened.
 * @param from - since when it may have been wrong, by itself; milliseconds, infinite: only what has no latest time
 * @param now - by the clock that is right, milliseconds since the epoch
 * @param idOf - the id of the note for a mark
 */
export const clockNotes = (
  { marks, policy }: Ledger,
  from: number,
  now: number,
  idOf: (mark: string) => string,
): readonly Entry[] =>
  Object.entries(marks)
    .filter(([mark, { fold }]) => policy[mark] !== undefined && isDoubtful(fold, Math.min(from, now + MINUTE)))
    .map(
      ([mark]): Entry => ({
        id: idOf(mark),
        at: iso(Math.min(from, now)),
        until: iso(now),
        mark,
        what: 'note',
        how: 'live',
        by: KEEPER_NAME,
        text: CLOCK_SET,
      }),
    )
