import type { Doubt, Reading } from '../protocol/reading.ts'

/** A closed reading with one of these does not count as shut. */
export const UNSURE: readonly Doubt[] = ['untested', 'overdue', 'faint', 'twin', 'spent', 'silent']

/** Open, or opened and not seen shut since. */
export const mayBeOpen = ({ position }: Pick<Reading, 'position'>): boolean =>
  position === 'open' || position === 'opened'

/** Reported or seen closed, with nothing that speaks against it. */
export const isSurelyShut = (reading: Pick<Reading, 'position' | 'doubts' | 'unheard' | 'against'>): boolean =>
  reading.position === 'closed' &&
  reading.unheard === undefined &&
  !reading.against &&
  !reading.doubts.some(doubt => UNSURE.includes(doubt))

/** The counts behind the headline. */
export interface Headline {
  readonly mayBeOpen: number
  readonly open: number
  readonly opened: number
  readonly untested: number
  /** Neither may be open nor surely shut. */
  readonly notCertain: number
  /** Of `notCertain` those that are not untested. */
  readonly unsure: number
  /** Every opening is surely shut and what was heard is fresh. */
  readonly allShut: boolean
}

/**
 * What may be said over the whole sheet.
 * @param fresh - the link, and the keeper where one is used, are live
 */
export function headline(readings: readonly Reading[], fresh: boolean): Headline {
  const counts = { open: 0, opened: 0, shut: 0, untested: 0, unsure: 0 }
  for (const reading of readings) {
    const isUntested = reading.doubts.includes('untested')
    if (isUntested) counts.untested++
    if (reading.position === 'open') counts.open++
    else if (reading.position === 'opened') counts.opened++
    else if (isSurelyShut(reading)) counts.shut++
    else if (!isUntested) counts.unsure++
  }
  const { open, opened, shut, untested, unsure } = counts
  return {
    mayBeOpen: open + opened,
    open,
    opened,
    untested,
    notCertain: readings.length - open - opened - shut,
    unsure,
    allShut: fresh && readings.length > 0 && shut === readings.length,
  }
}
