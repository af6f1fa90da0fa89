/** One opening and what is said of it. */
import { mayBeOpen as isOpenReading, UNSURE } from '../../ledger/headline.ts'
import type { Doubt, Reading } from '../../protocol/reading.ts'
import type { CardOpening } from './house.ts'

export interface Row {
  readonly opening: CardOpening
  readonly reading: Reading
}

/** Nothing heard of it yet. */
export const blank = (mark: string, asOf: string): Reading => ({
  mark,
  position: 'no-word',
  doubts: ['untested'],
  openings: 0,
  sends: 0,
  asOf,
})

export const mayBeOpen = ({ reading }: Pick<Row, 'reading'>): boolean => isOpenReading(reading)

/** How a row is coloured and tagged: by what most needs a look. */
export type Tone = 'open' | 'unseen' | 'doubt' | 'quiet'

/** Doubts in the order in which they need a look, and those that can wait. */
export const PRESSING: readonly Doubt[] = ['spent', 'silent', 'faint', 'overdue', 'twin', 'untested']
export const LATER: readonly Doubt[] = ['low', 'reflash']

/** Seen shut, and not certain all the same. */
export const isContested = ({ unheard, against }: Reading): boolean => unheard !== undefined || against === true

export function toneOf({ reading }: Row): Tone {
  if (reading.position === 'open') return 'open'
  if (reading.position === 'opened') return 'unseen'
  // A short cell or an old header says nothing of the window.
  return reading.doubts.some(doubt => UNSURE.includes(doubt)) || isContested(reading) ? 'doubt' : 'quiet'
}

/** The doubt that is spoken of first. */
export function worstDoubt({ reading }: Row): Doubt | undefined {
  return [...PRESSING, ...LATER].find(doubt => reading.doubts.includes(doubt))
}
