import type { BudgetSender, LoadPhase } from '../types.ts'
import { awakeMilliseconds } from './anchor.ts'
import { type Life, lifeOf, NOMINAL } from './life.ts'
import { openingsByMonth } from './season-cold.ts'
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
  /** Whether the count that it gives is known, in the trade or from cells of the person's own. */
  readonly countKnown: boolean
  /** Its bursts could not start, to these volts: the model is wrong there, and the mean current was taken. */
  readonly refutedVolts?: number
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
  if (!sender.seasonCelsius) return model
  const byMonth = openingsByMonth(model.ready, sender.seasonCelsius)
  const isCold = byMonth.some(openings => openings < model.life.openings)
  return { ...model, byMonth, countKnown: model.countKnown && !isCold }
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
