import { DAYS_IN_YEAR, HOUR } from '../../text/time.ts'
import { aboveZero, atLeastZero, mustBeObject, someFarads } from '../check.ts'
import { must } from '../must.ts'
import type { BudgetSender, CellModel, LoadPhase } from '../types.ts'
import { TEMPERATURE, temperatureFactors } from './ageing.ts'
import { anchored, awakeMilliseconds } from './anchor.ts'
import { CELLS, cellNamed } from './cells.ts'
import { phasesOf } from './loads.ts'
import { type ReadyReservoir, readyReservoir } from './reservoir.ts'
import { loadMillicoulombs } from './simulate.ts'

/** Defaults of a sender; each is shown in what a budget rests on. */
export const DEFAULTS = {
  cell: 'CR2032',
  load: 'cold-join',
  resetVolts: 2.3,
  openMinutes: 60,
  openingsPerYear: 120,
  sleepMicroamps: 5,
  temperatureCelsius: TEMPERATURE.reference,
} as const

export const HOURS_A_YEAR = 24 * DAYS_IN_YEAR
const MILLICOULOMBS_PER_MAH = 3600
/** Coulombs in a mAh. */
export const COULOMBS_PER_MAH = 3.6

/** A sender with every default filled in, and what it draws. */
export interface Ready {
  /** Its resistance as this load and this reset have it. */
  readonly cell: CellModel
  /** Resistance of the new cell whatever the load is. */
  readonly namedOhms: number
  readonly load: readonly LoadPhase[]
  readonly resetVolts: number
  /** At the given temperature; where that follows the season, at room temperature. */
  readonly capacity: number
  readonly ohmsByCold: number
  readonly lampMilliamps: number
  /** All that flows while the window stands open and the module sleeps, from a new cell. */
  readonly openMilliamps: number
  /** mAh of the load's phases in one opening, by name. */
  readonly awake: ReadonlyMap<string, number>
  /** mAh in one opening that is not hard, by name; the bleed's is beside it. */
  readonly soft: ReadonlyMap<string, number>
  /** mAh through a bleed in one opening for each volt of the rested cell. */
  readonly bledPerVolt: number
  /** mAh that fill a reservoir before the reed, once, when the cell is fitted: drawn hard. */
  readonly filledOnce: number
  /** mAh gone before the first opening, by name. */
  readonly idle: ReadonlyMap<string, number>
  readonly reservoir?: ReadyReservoir
  readonly sleepMilliamps: number
  readonly openMinutes: number
  /** Absent where nobody gave it. */
  readonly openingsPerYear?: number
}

export function total(charges: ReadonlyMap<string, number>): number {
  let sum = 0
  for (const charge of charges.values()) sum += charge
  return sum
}

/**
 * Fills in a sender's defaults and works out its charges.
 * @throws RangeError that names the argument and the value
 */
export function readySender(sender: BudgetSender): Ready {
  mustBeObject('sender', sender, 'an object, {} for every default')
  const given = sender.cell === undefined ? DEFAULTS.cell : sender.cell
  const named = given instanceof Object ? checkedModel(given) : cellNamed(given)
  const load = phasesOf(sender.load === undefined ? DEFAULTS.load : sender.load)
  const resetVolts = sender.resetVolts ?? DEFAULTS.resetVolts
  const openHours = (sender.openMinutes ?? DEFAULTS.openMinutes) / 60
  const rate = sender.openingsPerYear ?? DEFAULTS.openingsPerYear
  const lamp = sender.lampMilliamps ?? 0
  const asleep = (sender.sleepMicroamps ?? DEFAULTS.sleepMicroamps) / 1000
  const sends = sender.sendsPerOpening ?? 1
  const idleYears = sender.idleYears ?? 0
  aboveZero('resetVolts', resetVolts)
  atLeastZero('openMinutes', openHours * 60)
  atLeastZero('openingsPerYear', rate)
  atLeastZero('lampMilliamps', lamp)
  atLeastZero('sleepMicroamps', asleep * 1000)
  aboveZero('sendsPerOpening', sends)
  atLeastZero('idleYears', idleYears)
  const cold = temperatureFactors(
    sender.seasonCelsius ? DEFAULTS.temperatureCelsius : (sender.temperatureCelsius ?? DEFAULTS.temperatureCelsius),
  )
  const reservoir = readyReservoir(sender.reservoir)

  const awake = new Map<string, number>()
  for (const phase of load) {
    const name = phase.name ?? 'awake'
    const charge = (loadMillicoulombs([phase]) * sends) / MILLICOULOMBS_PER_MAH
    awake.set(name, (awake.get(name) ?? 0) + charge)
  }
  must(total(awake) > 0, 'load', sender.load, 'a load that draws some charge')
  const cell = anchored(named, load, resetVolts)
  const newVolts = cell.newVolts.value

  const awakeHours = (awakeMilliseconds(load) * sends) / HOUR
  const before = reservoir?.place === 'before-reed'
  const leak = (reservoir?.leakMicroamps ?? 0) / 1000
  const shelf = cell.capacityMilliampHours.value * cell.selfDischargePerYear.value
  const perOpening = (aYear: number): number => (rate > 0 ? aYear / rate : 0)
  // A contact that also reports closing stands on its cell all year.
  const powered = sends > 1 && rate > 0 ? HOURS_A_YEAR / rate : openHours
  const openOrAwake = Math.max(openHours, awakeHours)
  // What lies before the reed is on the cell day and night.
  const reservoirHours = before ? perOpening(HOURS_A_YEAR) : openOrAwake
  const bleedPath = (reservoir?.bleedOhms ?? 0) + cell.seriesOhms.value + (cell.polarisationOhms ?? 0)
  const bleedPerVolt = reservoir && reservoir.bleedOhms > 0 ? 1000 / bleedPath : 0
  const soft = new Map<string, number>([
    ['asleep', asleep * Math.max(0, powered - awakeHours)],
    ['lamp', lamp * openOrAwake],
    ['self-discharge', perOpening(shelf)],
  ])
  if (reservoir) soft.set('reservoir leak', leak * reservoirHours)
  const idleHours = idleYears * HOURS_A_YEAR
  const idle = new Map<string, number>([['self-discharge', shelf * idleYears]])
  if (before) {
    idle.set('reservoir leak', leak * idleHours)
    idle.set('reservoir bleed', bleedPerVolt * newVolts * idleHours)
  }

  return {
    cell,
    namedOhms: named.seriesOhms.value,
    load,
    resetVolts,
    capacity: cell.capacityMilliampHours.value * cold.capacity,
    ohmsByCold: cold.ohms,
    lampMilliamps: lamp,
    openMilliamps: lamp + asleep + leak + bleedPerVolt * newVolts,
    awake,
    soft,
    bledPerVolt: bleedPerVolt * reservoirHours,
    filledOnce: before ? (reservoir.farads * newVolts) / COULOMBS_PER_MAH : 0,
    idle,
    ...(reservoir ? { reservoir } : {}),
    sleepMilliamps: asleep,
    openMinutes: openHours * 60,
    ...(sender.openingsPerYear === undefined ? {} : { openingsPerYear: sender.openingsPerYear }),
  }
}

function checkedModel(model: CellModel): CellModel {
  for (const name of ['newVolts', 'seriesOhms', 'capacityMilliampHours'] as const)
    aboveZero(`cell.${name}`, model[name]?.value)
  atLeastZero('cell.selfDischargePerYear', model.selfDischargePerYear?.value)
  atLeastZero('cell.polarisationOhms', model.polarisationOhms ?? 0)
  someFarads('cell.polarisationFarads', model.polarisationFarads ?? 0)
  if (model.ageing) {
    aboveZero('cell.ageing', model.ageing.value)
    must(model.ageing.withinFactor >= 1, 'cell.ageing.withinFactor', model.ageing.withinFactor, '1 or more')
  }
  const points = model.voltsByDepth?.points
  must(
    model.ageing !== undefined || (points !== undefined && points.length > 1),
    'cell',
    model.name,
    `a model with ageing or a table of volts (built in: ${CELLS.map(cell => cell.name).join(', ')})`,
  )
  points?.forEach(([depth, volts], index) => {
    const earlier = points[index - 1]
    const ordered = earlier === undefined || (depth > earlier[0] && volts <= earlier[1])
    must(
      ordered && depth >= 0 && depth <= 1,
      `cell.voltsByDepth.points[${index}]`,
      [depth, volts],
      'deeper and no higher than the one before',
    )
  })
  return model
}
