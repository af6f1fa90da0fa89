import { type Entry, KEEPER_NAME } from '../protocol/entry.ts'
import type { Policy } from '../protocol/policy.ts'
import { own } from '../text/own.ts'
import { iso } from '../text/time.ts'
import type { Ledger } from './apply.ts'
import { type Fold, UNHEARD, willFloor } from './fold.ts'

/** A time in which words of some openings may have gone unheard. */
export interface UnheardTime {
  readonly marks: readonly string[]
  /** Milliseconds since the epoch; absent where nobody knows when it began. */
  readonly from?: number
  readonly to: number
  /** When each contact of both edges was last heard, copies that the broker keeps too; milliseconds. */
  readonly heardAt: ReadonlyMap<string, number>
}

/**
 * The one rule of what was missed: for every opening that was taken for shut and may have been opened unheard, a note
 * that its reading is not certain until the next look or, at both edges, the next word. What is not certain already is
 * not noted again.
 *
 * A gap that is shorter than a will takes hides nothing: the rest word, or the will of a contact of both edges, comes
 * after it. Where the contact last said that it is open and somebody saw it shut, a kept word that says `open` again
 * tells nothing, however short the gap was.
 * @param now - milliseconds since the epoch
 * @param idOf - the id of the note for a mark
 */
export function missedNotes(
  ledger: Ledger,
  gap: UnheardTime,
  now: number,
  idOf: (mark: string) => string,
): readonly Entry[] {
  return gap.marks
    .filter(mark => {
      const policy = own(ledger.policy, mark)
      const fold = own(ledger.marks, mark)?.fold
      return policy !== undefined && fold !== undefined && isMissed(fold, policy, gap, gap.heardAt.get(mark))
    })
    .map(mark => noteOf(idOf(mark), mark, gap.to, now))
}

function isMissed(fold: Fold, policy: Policy, { from, to }: UnheardTime, heardAt: number | undefined): boolean {
  if (fold.state !== 'closed' || fold.unheardAt !== undefined) return false
  const isBoth = policy.reports === 'both'
  if (isBoth && fold.edge !== 'closed') return true
  // A clock that was set back meanwhile leaves the length of the gap unknown.
  const isLong = from === undefined || from > to || to - from >= willFloor(policy)
  const hasTold = isBoth && heardAt !== undefined && heardAt >= to
  return isLong && !hasTold
}

/** In its place among what was said since; where the gap ended just now it is the last entry, whatever the clock. */
function noteOf(id: string, mark: string, to: number, now: number): Entry {
  const [at, how] = to < now ? ([to, 'said'] as const) : ([now, 'live'] as const)
  return { id, at: iso(at), mark, what: 'note', how, by: KEEPER_NAME, text: UNHEARD }
}
