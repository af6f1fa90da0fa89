import type { Doubt, Reading } from './types.ts'

/** A closed reading with one of these does not count as shut. */
export const UNSURE: readonly Doubt[] = ['untested', 'faint', 'twin', 'spent', 'silent']

/** Reported or seen closed, with nothing that speaks against it. */
export const isSurelyShut = (reading: Pick<Reading, 'position' | 'doubts' | 'unheard'>): boolean =>
  reading.position === 'closed' &&
  reading.unheard === undefined &&
  !reading.doubts.some(doubt => UNSURE.includes(doubt))

/** The counts behind the headline. */
export interface Headline {
  readonly mayBeOpen: number
  readonly open: number
  readonly opened: number
  readonly untested: number
  /** Neither may be open nor surely shut. */
  readonly notCertain: number
  /** Every opening is surely shut and what was heard is fresh. */
  readonly allShut: boolean
}

/**
 * What may be said over the whole sheet.
 * @param fresh - the link, and the keeper where one is used, are live
 */
export function headline(readings: readonly Reading[], fresh: boolean): Headline {
  const count = (test: (reading: Reading) => boolean): number => readings.filter(test).length
  const open = count(({ position }) => position === 'open')
  const opened = count(({ position }) => position === 'opened')
  const shut = count(isSurelyShut)
  return {
    mayBeOpen: open + opened,
    open,
    opened,
    untested: count(({ doubts }) => doubts.includes('untested')),
    notCertain: readings.length - open - opened - shut,
    allShut: fresh && readings.length > 0 && shut === readings.length,
  }
}
