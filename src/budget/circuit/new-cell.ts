import type { Shares } from '../lives/cold.ts'
import { COLD_WEIGHTS } from '../lives/cold-weights.ts'
import type { BudgetSender, LoadPhase } from '../types.ts'
import { TEMPERATURE } from './ageing.ts'
import { awakeMilliseconds } from './anchor.ts'
import { type Life, lifeOf, NOMINAL } from './life.ts'
import { inCold, openingsByMonth, sharesOf } from './season-cold.ts'
import { type Ready, readySender } from './sender.ts'
import { loadMillicoulombs } from './simulate.ts'

/** Whole openings for show; a real count that is whole but for rounding is not cut. */
export const wholeOpenings = (openings: number): number => Math.floor(openings + 1e-9)

/** What the model says of one new cell; where its temperature follows the season, at room temperature. */
export interface NewCell {
  readonly ready: Ready
  readonly life: Life
  /** With a season: openings at the temperature of each month, January first. */
  readonly byMonth?: readonly number[]
  /** Whether the count that it gives is known, in the trade or from cells of the person's own: never in the cold. */
  readonly countKnown: boolean
  /** Where it is cold, all the year or in winter. */
  readonly cold?: ColdCell
  /** Its bursts could not start, to these volts: the model is wrong there, and the mean current was taken. */
  readonly refutedVolts?: number
}

/** What the cold does to a new cell; of how much it counts nobody knows. */
export interface ColdCell {
  /** Openings at room temperature. */
  readonly room: number
  /** Whether a count is known there. */
  readonly countKnown: boolean
  /** Share of them that it gives in each month, for each of `COLD_WEIGHTS`. */
  readonly byWeight: readonly Shares[]
}

/**
 * A new cell under this kind of contact.
 *
 * Modules that draw bursts do run on such cells, so where bursts cannot start it is the model that is wrong (a cell's
 * resistance to a short burst is lower, and the module has capacitors of its own): the mean current is taken instead.
 * Where not even that starts, the module does not.
 * @throws RangeError that names the argument and the value
 */
export function newCell(sender: BudgetSender): NewCell {
  const model = steadyCell(sender)
  const { seasonCelsius, temperatureCelsius: celsius = TEMPERATURE.reference } = sender
  const season = seasonCelsius ?? { january: celsius, july: celsius }
  const byMonth = seasonCelsius ? { byMonth: openingsByMonth(model.ready, season) } : {}
  if (Math.min(season.january, season.july) >= TEMPERATURE.reference) return { ...model, ...byMonth }
  const warm = inCold(model.ready, TEMPERATURE.reference)
  const life = lifeOf(warm, NOMINAL, true)
  const openings = COLD_WEIGHTS.map(({ weight }) => openingsByMonth(model.ready, season, weight))
  // where it never starts, however little the cold counts, there is nothing to weigh
  if (!seasonCelsius && openings.every(([month]) => month === 0)) return model
  const countKnown = model.refutedVolts === undefined && isCountKnown(warm, life)
  const byWeight = openings.map(months => sharesOf(months, life.openings))
  return { ...model, ...byMonth, countKnown: false, cold: { room: life.openings, countKnown, byWeight } }
}

/** At one temperature. */
function steadyCell(sender: BudgetSender): NewCell {
  const ready = readySender(sender)
  const life = lifeOf(ready, NOMINAL, true)
  const known = { ready, life, countKnown: isCountKnown(ready, life) }
  if (life.endedBy !== 'never-starts' || !ready.load.some(({ burst }) => burst)) return known
  const meanReady = readySender({ ...sender, load: ready.load.map(mean) })
  const meanLife = lifeOf(meanReady, NOMINAL, true)
  if (meanLife.endedBy === 'never-starts') return known
  return { ready: meanReady, life: meanLife, countKnown: false, refutedVolts: life.newMinimum }
}

/** Awake for as long as the count is known for, within an eighth: 3.5 to 4.5 s of a cold join. */
const AS_LONG = 1 / 8

/** The count holds for the cell that it is known of, as long awake, without cold, lamp or reservoir; for no lower bound. */
function isCountKnown({ cell, load, ohmsByCold, lampMilliamps, reservoir }: Ready, life: Life): boolean {
  const { anchor, ageing } = cell
  const isItsOwn = anchor !== undefined && anchor.voltsPerMilliampHour === ageing?.value
  if (!isItsOwn || ohmsByCold > 1 || lampMilliamps > 0 || reservoir || life.cut || life.openings === 0) return false
  return Math.abs(awakeMilliseconds(load) / awakeMilliseconds(anchor.load) - 1) <= AS_LONG
}

const mean = ({ burst: _, ...phase }: LoadPhase, at: number, load: readonly LoadPhase[]): LoadPhase => ({
  ...phase,
  milliamps: (loadMillicoulombs([load[at]!]) * 1000) / phase.milliseconds,
})
