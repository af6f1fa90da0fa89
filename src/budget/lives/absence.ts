import type { CellHistory } from './cell-history.ts'
import { rateOf, silenceChance } from './rate.ts'

/** Part of the time in which nobody is in a house, or nothing of it can be heard. Two weeks a year; assumption. */
const EMPTY = 0.04
/** One opening in ten may go unheard for its cell: `replaceBelow` lets cells come so far. Assumption. */
const FAILS = 0.1

/**
 * Chance that a house is empty, or cut off, since its last word: the silence of all its openings is weighed in a house
 * where nobody is against one where people live. It changes nothing of what is told of single cells.
 * @param houseQuietDays - since the last word of any opening, of the mean season as `quietDays`
 */
export function emptyChance(cells: readonly CellHistory[], houseQuietDays: number): number {
  const log = cells.reduce((sum, cell) => sum + Math.log(evidenceOf(cell, houseQuietDays)), 0)
  return 1 / (1 + ((1 - EMPTY) / EMPTY) * Math.exp(-log))
}

/** How much likelier the silence of a cell is in an empty house. */
function evidenceOf(cell: CellHistory, houseQuietDays: number): number {
  const rate = cell.ended ? undefined : rateOf(cell)
  if (!rate) return 1
  const quiet = cell.quietDays ?? 0
  return unheard(silenceChance(rate, Math.max(0, quiet - houseQuietDays))) / unheard(silenceChance(rate, quiet))
}

const unheard = (silence: number): number => silence + (1 - silence) * FAILS
