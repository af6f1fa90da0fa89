import type { Ledger } from '../ledger/apply.ts'
import { UNHEARD, willFloor } from '../ledger/fold.ts'
import type { Entry } from '../protocol/entry.ts'
import { KEEPER_NAME } from '../protocol/entry.ts'
import type { HousePolicy } from '../protocol/policy.ts'
import type { Register } from '../register/types.ts'
import { own } from '../text/own.ts'
import { newId } from './id.ts'

/** Openings of which words may have been missed. */
export interface Missed {
  readonly marks: readonly string[]
  /** The words that the broker kept of them have come already. */
  readonly isKeptHeard?: boolean
}

/**
 * Notes that nobody listened for a time that ended at `at`, for those of the openings that were taken for shut: one
 * may have been opened since. What is not certain already is not noted again; a contact of both edges says by itself how
 * it stands as soon as it is heard, be it by the word that the broker kept.
 */
export function unheardNotes(
  ledger: Ledger,
  policy: HousePolicy,
  at: string,
  { marks, isKeptHeard = false }: Missed,
): Entry[] {
  const isShut = (mark: string): boolean => {
    const fold = own(ledger.marks, mark)?.fold
    if (fold?.state !== 'closed' || fold.unheardAt !== undefined || !Object.hasOwn(policy, mark)) return false
    return !(isKeptHeard && policy[mark]?.reports === 'both' && fold.edge === 'closed')
  }
  return marks.filter(isShut).map(mark => {
    const id = newId(Date.parse(at))
    return { id, at, mark, what: 'note', how: 'live', by: KEEPER_NAME, text: UNHEARD }
  })
}

/** What a broker that kept the session did not keep: what was said at QoS 0. A last will tells of a shorter time. */
export const missedAtQos0 = (
  { openings }: Register,
  policy: HousePolicy,
  goneMilliseconds: number,
): readonly string[] =>
  openings
    .filter(({ sender }) => sender.qos === 0)
    .map(({ mark }) => mark)
    .filter(mark => goneMilliseconds < 0 || goneMilliseconds >= willFloor(policy[mark]!))
