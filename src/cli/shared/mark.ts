import type { Opening, Register } from '../../register/types.ts'
import { firstOf } from '../../text/lists.ts'
import { nearest } from '../../text/nearest.ts'
import { EXIT, Stop } from '../world.ts'

/**
 * The opening that a person names by its mark, whatever the case: marks are unique without it.
 * @param where - the option that gave it; absent: an argument
 * @throws Stop exit 2 with the nearest mark, and what marks there are
 */
export function openingOf({ openings }: Register, given: string, where?: string): Opening {
  const found = openings.find(({ mark }) => mark.toLowerCase() === given.toLowerCase())
  if (found) return found
  const marks = openings.map(({ mark }) => mark)
  const near = nearest(given, marks)
  const known = firstOf(marks, 12)
  throw new Stop(
    EXIT.usage,
    `${where ? `${where}: ` : ''}the register has no opening ${JSON.stringify(given)}; it has ${known}${near ? `; did you mean ${near}?` : ''}`,
  )
}
