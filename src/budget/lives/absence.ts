import type { CellHistory } from './cell-history.ts'
import { rateOf, silenceChance } from './rate.ts'

/** Part of the time in which nobody is in a house, or nothing of it can be heard. Two weeks a year; assumption. */
const EMPTY = 0.04
/** One opening in ten may go unheard for its cell: `replaceBelow` lets cells come so far. Assumption. */
const FAILS = 0.1

/** Whether a house is empty since its last word. */
export interface Absence {
  /** Chance that it is. */
  readonly chance: number
}

/**
 * The silence of each opening against that of the whole house. Where nothing at all is heard, somebody is away rather
 * than every cell dead on the same day, and silence tells nothing of any cell. So the chance of an opening's silence, if
 * its cell runs, is that of an empty house or of a lived-in one, as likely as the silence of the others makes them.
 * @param houseQuietDays - since the last word of any opening, of the mean season as `quietDays`
 */
export function withAbsence(
  cells: readonly CellHistory[],
  houseQuietDays: number,
): { readonly cells: readonly CellHistory[]; readonly absence: Absence } {
  const known = cells.map(cell => {
    const rate = cell.ended ? undefined : rateOf(cell)
    const quiet = cell.quietDays ?? 0
    if (!rate) return { livedIn: 1, empty: 1, log: 0 }
    const [livedIn, empty] = [silenceChance(rate, quiet), silenceChance(rate, Math.max(0, quiet - houseQuietDays))]
    return { livedIn, empty, log: Math.log(unheard(empty) / unheard(livedIn)) }
  })
  const all = known.reduce((sum, { log }) => sum + log, 0)
  return {
    absence: { chance: emptyChance(all) },
    cells: cells.map((cell, i) => {
      const { livedIn, empty, log } = known[i]!
      // by the others: its own silence is what is to be judged
      const chance = emptyChance(all - log)
      const silence = livedIn + chance * (empty - livedIn)
      const byWeight = cell.byWeight?.map(one => ({ ...one, silence }))
      return { ...cell, silence, ...(byWeight ? { byWeight } : {}) }
    }),
  }
}

const unheard = (silence: number): number => silence + (1 - silence) * FAILS

/** @param log - of the likelihood of the silence in an empty house over that in a lived-in one */
const emptyChance = (log: number): number => 1 / (1 + ((1 - EMPTY) / EMPTY) * Math.exp(-log))
