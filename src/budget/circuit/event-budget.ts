import type { BudgetSender, EventBudget, Sensitivity } from '../types.ts'
import { knownVoltsOf } from './ageing.ts'
import { basisOf } from './basis.ts'
import { SHELF_YEARS } from './cells.ts'
import { type Life, lifeOf, minimumAfter, NOMINAL, type Tweak } from './life.ts'
import { HOURS_A_YEAR, type Ready, readySender, total } from './sender.ts'

/** 90 % limits of what the calibration leaves open. */
const UNCERTAIN = { ohms: 0.05, current: 0.05, resetVolts: 0.05 } as const

const METHOD =
  '90 % limits, given the calibration: each uncertain figure is set to its two limits alone, and the differences from ' +
  'the median are added as a root sum of squares, down and up apart'

/** Whole openings for show; a real count that is whole but for rounding is not cut. */
export const wholeOpenings = (openings: number): number => Math.floor(openings + 1e-9)

/**
 * Openings that a new cell gives this kind of contact, which limit ends it, and where the charge goes.
 *
 * Model: charge drawn hard (awake) lowers the rested volts; all charge counts against capacity and raises the
 * resistance. The end is where the least volts under load reach the reset, found by root finding.
 * Assumption: the calibration of `restsOn`. Where the model would leave the known rested volts of a coin cell (3.0 V,
 * or as far down as it was calibrated), it stops there and `atLeast` is true.
 * @returns openings as real numbers, 0 or more, with 90 % limits
 * @throws RangeError that names the argument and the value
 */
export function eventBudget(sender: BudgetSender): EventBudget {
  const ready = readySender(sender)
  const life = lifeOf(ready, NOMINAL, true)
  const sensitivity = sensitivityOf(ready)
  // Where the median is a lower bound, what is unknown must not stretch the range either.
  const limits = life.cut ? sensitivityOf(ready, true) : sensitivity
  const spread = (of: (one: Sensitivity) => number): number => Math.hypot(...limits.map(one => Math.max(0, of(one))))
  const p50 = life.openings
  const holdUp = holdUpSeconds(ready)
  const openMilliamps = ready.besideMilliamps + ready.sleepMilliamps
  return {
    openings: {
      p05: Math.max(0, p50 - spread(one => p50 - one.worse)),
      p50,
      p95: life.cut ? Number.POSITIVE_INFINITY : p50 + spread(one => one.better - p50),
    },
    atLeast: life.cut,
    endedBy: life.endedBy,
    hardMilliampHours: life.hard,
    parts: partsOf(ready, life),
    sensitivity,
    volts: {
      reset: ready.resetVolts,
      newMinimum: life.newMinimum,
      endMinimum: life.endMinimum,
      endRested: life.endRested,
    },
    openHoursToEmpty:
      openMilliamps > 0 ? Math.max(0, ready.capacity - total(ready.idle)) / openMilliamps : Number.POSITIVE_INFINITY,
    ...(holdUp === undefined ? {} : { holdUpSeconds: holdUp }),
    warnings: warningsOf(ready, life, holdUp),
    restsOn: basisOf(sender, ready.cell, ready.reservoir),
    method: METHOD,
  }
}

/** Openings with each uncertain figure at its limits; the straight line of ageing goes on unless `known`. */
function sensitivityOf(ready: Ready, known = false): Sensitivity[] {
  const one = (name: string, limits: string, worse: Partial<Tweak>, better: Partial<Tweak>): Sensitivity => ({
    name,
    limits,
    worse: lifeOf(ready, { ...NOMINAL, ...worse }, known).openings,
    better: lifeOf(ready, { ...NOMINAL, ...better }, known).openings,
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
  const ready = readySender(sender)
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
  if (ready.reservoir?.place === 'after-reed') add('filling the reservoir', life.filled)
  for (const [name, charge] of ready.soft) add(name, charge * Math.max(0, n - 1))
  for (const [name, charge] of ready.idle) add(name, charge)
  return parts
}

/** Said where the charge decides, not the volts under load. */
export const CAPACITY_WARNING =
  'its end hangs on the capacity: the range leaves out how far the capacities of single cells differ'

/** Said where the cell is given up for its age before its openings are spent. */
export function shelfWarning(openingsPerYear = 0, openings: number): string | undefined {
  const years = openingsPerYear > 0 ? openings / openingsPerYear : 0
  if (years <= SHELF_YEARS) return undefined
  return `at ${openingsPerYear} openings a year that is ${years.toFixed(0)} years: the shelf life, about ${SHELF_YEARS} years (from memory), ends first`
}

/** C (V - reset) / I, or with a bleed resistor the exponential of it. */
function holdUpSeconds(ready: Ready): number | undefined {
  const { reservoir } = ready
  if (reservoir?.place !== 'after-reed') return undefined
  const bleedAmps = reservoir.bleedOhms > 0 ? ready.cell.newVolts.value / reservoir.bleedOhms : 0
  const amps = (ready.sleepMilliamps + ready.besideMilliamps + reservoir.leakMicroamps / 1000) / 1000 - bleedAmps
  const high = ready.cell.newVolts.value
  const low = Math.min(ready.resetVolts, high)
  if (reservoir.bleedOhms === 0) return amps > 0 ? (reservoir.farads * (high - low)) / amps : Number.POSITIVE_INFINITY
  const drop = amps * reservoir.bleedOhms
  return reservoir.bleedOhms * reservoir.farads * Math.log((high + drop) / (low + drop))
}

function warningsOf(ready: Ready, life: Life, holdUp: number | undefined): string[] {
  const warnings: string[] = []
  const cell = ready.cell.name
  if (life.endedBy === 'never-starts') {
    warnings.push(
      Number.isNaN(life.newMinimum)
        ? `the module never starts: its volts never reach ${ready.reservoir?.startVolts} V behind the reed`
        : `the module never starts: a new ${cell} falls to ${life.newMinimum.toFixed(2)} V under this load, the reset is at ${ready.resetVolts} V`,
    )
  }
  if (life.cut)
    warnings.push(
      `nothing is known of this cell below ${knownVoltsOf(ready.cell).toFixed(2)} V rested: the count is a lower bound`,
    )
  if (ready.cell.newVolts.value > 3.6) {
    warnings.push(`a new ${cell} rests at ${ready.cell.newVolts.value} V: many modules stand at most 3.6 V`)
  }
  if (life.endedBy === 'capacity' || (life.endedBy === 'volts' && ready.cell.voltsByDepth))
    warnings.push(CAPACITY_WARNING)
  const shelf = shelfWarning(ready.openingsPerYear, life.openings)
  if (shelf) warnings.push(shelf)
  if ((ready.openingsPerYear ?? 0) * ready.openMinutes > HOURS_A_YEAR * 60)
    warnings.push(
      `${ready.openingsPerYear} openings a year of ${ready.openMinutes} minutes each are more than a year: one of the two is wrong`,
    )
  if (ready.cell.note) warnings.push(ready.cell.note)
  if (ready.reservoir?.place === 'after-reed' && ready.reservoir.farads >= 0.001) {
    const amps = ready.cell.newVolts.value / (ready.cell.seriesOhms.value * ready.ohmsByCold + ready.reservoir.ohms)
    warnings.push(
      `each opening fills the empty reservoir through the reed with ${amps.toFixed(2)} A at first: see what the reed may switch`,
    )
  }
  if (holdUp !== undefined && holdUp >= 1) {
    const time =
      holdUp < 120
        ? `${Math.round(holdUp)} s`
        : holdUp < 7200
          ? `${Math.round(holdUp / 60)} minutes`
          : `${Math.round(holdUp / 3600)} hours`
    warnings.push(
      `the reservoir keeps the module asleep for up to ${time} after the window is shut: a reopening in that time is not sent`,
    )
  }
  return warnings
}

/** Hard charge of one opening of a new cell, mAh: the load, and filling a reservoir behind the reed. */
export function hardPerOpening(sender: BudgetSender): number {
  const ready = readySender(sender)
  const { reservoir } = ready
  const fill = reservoir?.place === 'after-reed' ? (reservoir.farads * ready.cell.newVolts.value) / 3.6 : 0
  return total(ready.awake) + fill
}
