import type { Ledger } from '../ledger/apply.ts'
import { CLOCK_SET, isDoubtful } from '../ledger/clock-set.ts'
import { type Entry, KEEPER_NAME } from '../protocol/entry.ts'
import { iso, MINUTE } from '../text/time.ts'
import type { Arrival, HouseState } from './state.ts'

/** What comes while the clock cannot be right has no latest time. */
export const arrivalBy = ({ isClockWrong }: HouseState, arrival: Arrival): Arrival =>
  isClockWrong ? { at: arrival.at, queued: true } : arrival

/** As `arrivalBy`, for what is an entry already. */
export const datedBy = ({ isClockWrong }: HouseState, entry: Entry): Entry =>
  isClockWrong && entry.how === 'live' ? { ...entry, how: 'queued' } : entry

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
