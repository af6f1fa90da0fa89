import { COLD_WITHIN } from '../lives/cold-weights.ts'
import { newLife, newLifeInTheCold } from '../lives/new-life.ts'
import type { BudgetSender, EventBudget, Sensitivity } from '../types.ts'
import { basisOf } from './basis.ts'
import { inrushOf } from './inrush.ts'
import { bledAfter, endAfter, type Life, lifeOf, minimumAfter, NOMINAL, type Tweak, totalAfter } from './life.ts'
import { type NewCell, newCell } from './new-cell.ts'
import { secondsToFall } from './reservoir.ts'
import { coursesOf, inCold, inItsYear, openingsByMonth, sharesOf } from './season-cold.ts'
import { COULOMBS_PER_MAH, DEFAULTS, type Ready, readySender, total } from './sender.ts'
import { warningsOf } from './warnings.ts'

/** 90 % limits of what the calibration leaves open. */
const UNCERTAIN = { ohms: 0.05, current: 0.05, resetVolts: 0.05, cold: COLD_WITHIN } as const

const METHOD =
  '90 % of single new cells: the middle of the kind lies within a factor of %s of the model, each opening has a factor ' +
  'of its own, and single cells scatter (Weibull, shape about 3): assumptions, which forecast learns from your own cells'

const COLD_METHOD = `; the cold counts by our own factors, which have no source, within a factor of ${COLD_WITHIN}: the range is over all of that`

/**
 * Openings that a new cell gives this kind of contact, which limit ends it, and where the charge goes.
 *
 * Model: charge drawn hard (awake) lowers the rested volts; all charge counts against capacity and raises the
 * resistance. The end is where the least volts under load reach the reset, found by root finding.
 * Assumption: the calibration of `restsOn`. Where the model would leave the known rested volts of a coin cell (3.0 V,
 * or as far down as it was calibrated), it stops there and `atLeast` is true.
 * @returns openings as real numbers, 0 or more, with 90 % limits
 * @throws RangeError that names the argument and the value
 * @example
 * import { eventBudget, wholeOpenings } from 'sashtally'
 * const { openings } = eventBudget({ cell: 'CR2032', load: 'cold-join' })
 * console.log(wholeOpenings(openings.p50)) // 20
 */
export function eventBudget(sender: BudgetSender): EventBudget {
  const model = newCell(sender)
  const { ready, countKnown, byMonth, cold } = model
  const one = cold
    ? newLifeInTheCold(cold.room, cold.countKnown, coursesOf(sender, cold.byWeight))
    : newLife(model.life.openings, countKnown)
  const life = byMonth ? { ...model.life, ...endAfter(ready, one.p50) } : model.life
  const left = Math.max(0, ready.capacity - totalAfter(ready, 0))
  const shown = {
    holdUpSeconds: holdUpSeconds(ready),
    inrush: inrushOf(ready),
    openHoursToEmpty: ready.openMilliamps > 0 ? left / ready.openMilliamps : Number.POSITIVE_INFINITY,
  }
  return {
    openings: life.cut ? { ...one, p95: Number.POSITIVE_INFINITY } : one,
    atLeast: life.cut,
    countKnown,
    ...(byMonth ? { byMonth } : {}),
    endedBy: life.endedBy,
    ...(model.refutedVolts === undefined ? {} : { burstsRefuted: true as const }),
    hardMilliampHours: life.hard,
    parts: partsOf(ready, life),
    sensitivity: sensitivityOf(sender, model),
    volts: {
      reset: ready.resetVolts,
      newMinimum: life.newMinimum,
      endMinimum: life.endMinimum,
      endRested: life.endRested,
    },
    openHoursToEmpty: shown.openHoursToEmpty,
    ...(shown.holdUpSeconds === undefined ? {} : { holdUpSeconds: shown.holdUpSeconds }),
    inrush: shown.inrush,
    warnings: warningsOf(model, shown),
    restsOn: basisOf(sender, ready),
    method: `${METHOD.replace('%s', (cold ?? model).countKnown ? '1.5' : '3')}${cold ? COLD_METHOD : ''}`,
  }
}

function holdUpSeconds({ reservoir, cell, resetVolts, sleepMilliamps, lampMilliamps }: Ready): number | undefined {
  if (reservoir?.place !== 'after-reed') return undefined
  return secondsToFall(
    reservoir,
    cell.newVolts.value,
    resetVolts,
    sleepMilliamps + lampMilliamps + reservoir.leakMicroamps / 1000,
  )
}

/** Openings in the year of a cell, from those at room temperature; where no season is known they are the same. */
function inYear(sender: BudgetSender, { life, byMonth }: NewCell): (room: number) => number {
  return byMonth ? inItsYear(sender, sharesOf(byMonth, life.openings)) : room => room
}

/** Openings with each uncertain figure at its limits; the straight line of ageing goes on below what is known. */
function sensitivityOf(sender: BudgetSender, model: NewCell): Sensitivity[] {
  const { ready, life } = model
  const { seasonCelsius: season, temperatureCelsius = DEFAULTS.temperatureCelsius } = sender
  const told = inYear(sender, model)
  /** The same at a cold that weighs so many times as much. */
  const colder = (weight: number): number =>
    season
      ? inItsYear(sender, sharesOf(openingsByMonth(ready, season, weight), life.openings))(life.openings)
      : lifeOf(inCold(ready, temperatureCelsius, weight), NOMINAL, false).openings
  const one = (name: string, limits: string, worse: Partial<Tweak>, better: Partial<Tweak>): Sensitivity => ({
    name,
    limits,
    worse: told(lifeOf(ready, { ...NOMINAL, ...worse }, false).openings),
    better: told(lifeOf(ready, { ...NOMINAL, ...better }, false).openings),
  })
  const { ohms, current, resetVolts } = UNCERTAIN
  const list = [
    one('resistance', `${ohms * 100} %`, { ohmsFactor: 1 + ohms }, { ohmsFactor: 1 - ohms }),
    one('current', `${current * 100} %`, { currentFactor: 1 + current }, { currentFactor: 1 - current }),
    one('reset', `${resetVolts} V`, { resetVoltsMore: resetVolts }, { resetVoltsMore: -resetVolts }),
  ]
  const factor = ready.cell.ageing?.withinFactor ?? 1
  if (factor > 1)
    list.push(one('ageing', `a factor of ${factor}`, { ageingFactor: factor }, { ageingFactor: 1 / factor }))
  if (ready.ohmsByCold > 1 || model.byMonth?.some(openings => openings < life.openings)) {
    const { cold: times } = UNCERTAIN
    const limits = `a factor of ${times} on our own factors, which have no source`
    list.push({ name: 'cold', limits, worse: colder(times), better: colder(1 / times) })
  }
  return list
}

export interface CurvePoint {
  readonly openings: number
  /** Least volts under load; absent where the module does not start. */
  readonly minimumVolts?: number
  /** 90 % limits of resistance and current, added as a root sum of squares. */
  readonly lower?: number
  readonly upper?: number
}

/** Volts under load against openings, for a plot; the straight line of ageing goes on below the known volts. */
export function voltsCurve(sender: BudgetSender, upTo: number, points: number): CurvePoint[] {
  const { ready } = newCell(sender)
  const { ohms, current } = UNCERTAIN
  return Array.from({ length: points }, (_, index): CurvePoint => {
    const openings = (upTo * index) / Math.max(1, points - 1)
    const at = (tweak: Partial<Tweak>): number => minimumAfter(ready, openings, { ...NOMINAL, ...tweak }) ?? Number.NaN
    const minimumVolts = at({})
    if (Number.isNaN(minimumVolts)) return { openings }
    const down = [at({ ohmsFactor: 1 + ohms }), at({ currentFactor: 1 + current })]
    const up = [at({ ohmsFactor: 1 - ohms }), at({ currentFactor: 1 - current })]
    const spread = (values: readonly number[]): number =>
      Math.hypot(...values.map(value => (Number.isNaN(value) ? 0 : value - minimumVolts)))
    return { openings, minimumVolts, lower: minimumVolts - spread(down), upper: minimumVolts + spread(up) }
  })
}

function partsOf(ready: Ready, life: Life): EventBudget['parts'] {
  const n = life.openings
  const parts: { name: string; milliampHours: number }[] = []
  const add = (name: string, milliampHours: number): void => {
    const found = parts.find(part => part.name === name)
    if (found) found.milliampHours += milliampHours
    else parts.push({ name, milliampHours })
  }
  for (const [name, charge] of ready.awake) add(name, charge * n)
  if (ready.reservoir) add('filling the reservoir', life.filled)
  const whole = Math.max(0, n - 1)
  for (const [name, charge] of ready.soft) add(name, charge * whole)
  add('reservoir bleed', bledAfter(ready, whole))
  for (const [name, charge] of ready.idle) add(name, charge)
  return parts
}

/** Hard charge of one opening of a new cell, mAh: the load, and filling a reservoir behind the reed. */
export function hardPerOpening(sender: BudgetSender): number {
  const ready = readySender(sender)
  const { reservoir } = ready
  const fill = reservoir?.place === 'after-reed' ? (reservoir.farads * ready.cell.newVolts.value) / COULOMBS_PER_MAH : 0
  return total(ready.awake) + fill
}
