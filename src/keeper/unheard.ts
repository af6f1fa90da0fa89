import type { Ledger } from '../ledger/apply.ts'
import { UNHEARD } from '../ledger/fold.ts'
import type { Entry, HousePolicy } from '../ledger/types.ts'
import { newId } from './id.ts'
import { KEEPER_NAME } from './says.ts'

/**
 * Notes that nobody listened for a time that ended at `at`, for those of the openings that were taken for shut: one
 * may have been opened since. What is not certain already is not noted again, and a contact of both edges says by itself
 * how it stands.
 */
export function unheardNotes(ledger: Ledger, policy: HousePolicy, at: string, marks: readonly string[]): Entry[] {
  const isShut = (mark: string): boolean => {
    const fold = Object.hasOwn(ledger.marks, mark) ? ledger.marks[mark]?.fold : undefined
    if (fold?.state !== 'closed' || !Object.hasOwn(policy, mark) || policy[mark]?.reports !== 'openings') return false
    return fold.unheardAt === undefined || fold.unheardAt <= (fold.since ?? Number.NEGATIVE_INFINITY)
  }
  return marks.filter(isShut).map(mark => {
    const id = newId(Date.parse(at))
    return { id, at, mark, what: 'note', how: 'live', by: KEEPER_NAME, text: UNHEARD }
  })
}
