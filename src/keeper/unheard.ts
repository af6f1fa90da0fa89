import type { Ledger } from '../ledger/apply.ts'
import { UNHEARD } from '../ledger/fold.ts'
import type { Entry, HousePolicy } from '../ledger/types.ts'
import { newId } from './id.ts'
import { KEEPER_NAME } from './says.ts'

/**
 * Notes that nobody listened for a time that ended at `at`, for those of the openings that were taken for shut: one
 * may have been opened since. What is not certain already is not noted again; a contact of both edges says by itself how
 * it stands as soon as it is heard, be it by the word that the broker kept.
 */
export function unheardNotes(ledger: Ledger, policy: HousePolicy, at: string, marks: readonly string[]): Entry[] {
  const isShut = (mark: string): boolean => {
    const fold = Object.hasOwn(ledger.marks, mark) ? ledger.marks[mark]?.fold : undefined
    return fold?.state === 'closed' && fold.unheardAt === undefined && Object.hasOwn(policy, mark)
  }
  return marks.filter(isShut).map(mark => {
    const id = newId(Date.parse(at))
    return { id, at, mark, what: 'note', how: 'live', by: KEEPER_NAME, text: UNHEARD }
  })
}
