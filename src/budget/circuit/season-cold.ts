import { type Course, furtherSends, type Shares } from '../lives/cold.ts'
import { COLD_WEIGHTS } from '../lives/cold-weights.ts'
import type { Chance } from '../lives/mixed.ts'
import { must } from '../must.ts'
import type { BudgetSender, SeasonCelsius } from '../types.ts'
import { mustBeDegrees, temperatureFactors } from './ageing.ts'
import { lifeOf, NOMINAL } from './life.ts'
import { DEFAULTS, type Ready } from './sender.ts'

/** No cell is taken to have less than this to give in the cold. Assumption. */
const LEAST_SHARE = 0.02

/** Degrees in the middle of a month, 0 for January: a cosine of the year. */
const celsiusIn = ({ january, july }: SeasonCelsius, month: number): number =>
  (january + july) / 2 + ((january - july) / 2) * Math.cos((2 * Math.PI * month) / 12)

/** The sender at a temperature. @param weight - how many times the cold counts against our own factors */
export function inCold(ready: Ready, celsius: number, weight = 1): Ready {
  const { ohms, capacity } = temperatureFactors(celsius)
  const full = ready.cell.capacityMilliampHours.value
  return {
    ...ready,
    ohmsByCold: 1 + (ohms - 1) * weight,
    capacity: Math.max(0, full * (1 - (1 - capacity) * weight)),
  }
}

/** Openings of a new cell at the temperature of each month, January first. */
export function openingsByMonth(ready: Ready, season: SeasonCelsius, weight = 1): number[] {
  mustBeDegrees('seasonCelsius.january', season.january)
  mustBeDegrees('seasonCelsius.july', season.july)
  const openingsIn = (month: number): number =>
    lifeOf(inCold(ready, celsiusIn(season, month), weight), NOMINAL, true).openings
  if (season.january === season.july) return new Array<number>(12).fill(openingsIn(0))
  // spring and autumn are alike
  const half = [0, 1, 2, 3, 4, 5, 6].map(openingsIn)
  return Array.from({ length: 12 }, (_, month) => half[Math.min(month, 12 - month)]!)
}

/** @param openings - as `openingsByMonth` gives them; `room`: at room temperature */
export const sharesOf = (openings: readonly number[], room: number): Shares =>
  openings.map(month => (room > 0 ? Math.min(1, Math.max(LEAST_SHARE, month / room)) : 1))

/** When the cell is fitted, milliseconds since the epoch: in the middle of the coldest month where nobody says. */
export function fittedAt({ fittedAt: given, seasonCelsius }: BudgetSender): number {
  if (given !== undefined) {
    must(!Number.isNaN(Date.parse(given)), 'fittedAt', given, 'a time in ISO 8601')
    return Date.parse(given)
  }
  const isJuly = seasonCelsius !== undefined && seasonCelsius.july < seasonCelsius.january
  return Date.UTC(2024, isJuly ? 6 : 0, 16)
}

/** Openings of a new cell in its year, from those that it gives at room temperature. */
export function inItsYear(sender: BudgetSender, shares: Shares): (room: number) => number {
  const course = courseOf(sender, shares)
  return room => furtherSends(course, room)
}

function courseOf(sender: BudgetSender, shares: Shares): Course {
  const perYear = (sender.openingsPerYear ?? DEFAULTS.openingsPerYear) || Number.POSITIVE_INFINITY
  return { shares, worn: 0, ahead: { from: fittedAt(sender), perYear, already: 0 } }
}

/** The way of a new cell through its year at each weight of the cold. @param byWeight - shares, as `COLD_WEIGHTS` */
export const coursesOf = (sender: BudgetSender, byWeight: readonly Shares[]): Chance<Course>[] =>
  byWeight.map((shares, i) => ({ ...courseOf(sender, shares), chance: COLD_WEIGHTS[i]!.chance }))
