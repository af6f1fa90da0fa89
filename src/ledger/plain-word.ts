import type { PlainWord } from '../protocol/plain.ts'
import type { Reading } from '../protocol/reading.ts'
import { isSurelyShut, mayBeOpen } from './headline.ts'

/** The one word that a hub may believe: `closed` only when that is known. */
export function plainWord(reading: Pick<Reading, 'position' | 'doubts' | 'unheard'>): PlainWord {
  if (mayBeOpen(reading)) return 'may-be-open'
  return isSurelyShut(reading) ? 'closed' : 'not-certain'
}
