/** What a tally would know of a played house: the cells as `leftByMark` takes them. */
import type { CellHistory, PastCell } from '../../src/budget/lives/cell-history.ts'
import { rateOf, silenceChance } from '../../src/budget/lives/rate.ts'
import { assumedSeason, seasonDays } from '../../src/budget/lives/season.ts'
import { type Contact, type House, MODEL } from './houses.ts'

export const DAY = 86_400_000
const MIDWINTER = Date.UTC(2025, 0, 15)

/** Milliseconds since the epoch of a day of a house. */
export const timeIn = ({ begin }: House, day: number): number => MIDWINTER + (begin + day) * DAY

const SEASON = assumedSeason(() => 0)

export function historyOf(house: House, contact: Contact): CellHistory {
  const days = (from: number, to: number): number => seasonDays(timeIn(house, from), timeIn(house, to), SEASON)
  const { mark, sends, past, natural, lastAt } = contact
  const dead = past.reduce((sum, cell) => sum + (cell.failed ? days(cell.lastAt, cell.endedAt) : 0), 0)
  const rate = { observedOpenings: natural, observedDays: Math.max(0, days(0, lastAt) - dead) }
  return {
    mark,
    kind: 'CR2032 cold-join',
    modelMedian: MODEL,
    countKnown: true,
    sends,
    past: past.map((cell): PastCell => {
      if (cell.failed) return { failedBetween: [cell.sends, cell.sends + 1] }
      const known = rateOf(rate)
      return { runningAt: cell.sends, silence: known ? silenceChance(known, days(cell.lastAt, cell.endedAt)) : 1 }
    }),
    quietDays: days(lastAt, house.day),
    ...rate,
    replaceBelow: 0.9,
  }
}

export const historiesOf = (house: House): CellHistory[] => house.contacts.map(contact => historyOf(house, contact))
