import { DAYS_IN_YEAR, HOUR } from '../../text/time.ts'
import { aboveZero, atLeastZero, must, someFarads } from '../check.ts'
import {
  type BudgetSender,
  type CellModel,
  type LoadPhase,
  PLACES,
  type Reservoir,
  type ReservoirPlace,
} from '../types.ts'
import { TEMPERATURE, temperatureFactors } from './ageing.ts'
import { CELLS, cellNamed } from './cells.ts'
import { phasesOf } from './loads.ts'
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
  reservoirOhms: 0.5,
  leakMicroamps: 5,
  startVolts: 2.6,
} as const

export const HOURS_A_YEAR = 24 * DAYS_IN_YEAR
const MILLICOULOMBS_PER_MAH = 3600

export interface ReadyReservoir {
  readonly farads: number
  readonly place: ReservoirPlace
  readonly ohms: number
  readonly leakMicroamps: number
  readonly startVolts: number
  /** 0: none. */
  readonly bleedOhms: number
}

/** A sender with every default filled in, and what it draws. */
export interface Ready {
  readonly cell: CellModel
  readonly load: readonly LoadPhase[]
  readonly resetVolts: number
  /** At the given temperature. */
  readonly capacity: number
  readonly ohmsByCold: number
  /** Current beside the load while open: lamp and bleed. */
  readonly besideMilliamps: number
  /** mAh of the load's phases in one opening, by name. */
  readonly awake: ReadonlyMap<string, number>
  /** mAh in one opening that is not hard, by name. */
  readonly soft: ReadonlyMap<string, number>
  /** mAh gone before the first opening, by name. */
  readonly idle: ReadonlyMap<string, number>
  readonly reservoir?: ReadyReservoir
  readonly sleepMilliamps: number
  readonly openMinutes: number
  /** Absent where nobody gave it. */
  readonly openingsPerYear?: number
}

const sum = (values: Iterable<number>): number => [...values].reduce((total, value) => total + value, 0)
export const total = (charges: ReadonlyMap<string, number>): number => sum(charges.values())

/**
 * Fills in a sender's defaults and works out its charges.
 * @throws RangeError that names the argument and the value
 */
export function readySender(sender: BudgetSender): Ready {
  const cell = sender.cell instanceof Object ? checkedModel(sender.cell) : cellNamed(sender.cell ?? DEFAULTS.cell)
  const loadGiven = sender.load ?? DEFAULTS.load
  const load = phasesOf(loadGiven)
  const resetVolts = sender.resetVolts ?? DEFAULTS.resetVolts
  const openHours = (sender.openMinutes ?? DEFAULTS.openMinutes) / 60
  const rate = sender.openingsPerYear ?? DEFAULTS.openingsPerYear
  const lamp = sender.lampMilliamps ?? 0
  const asleep = (sender.sleepMicroamps ?? DEFAULTS.sleepMicroamps) / 1000
  const celsius = sender.temperatureCelsius ?? DEFAULTS.temperatureCelsius
  const sends = sender.sendsPerOpening ?? 1
  const idleYears = sender.idleYears ?? 0
  aboveZero('resetVolts', resetVolts)
  atLeastZero('openMinutes', openHours * 60)
  atLeastZero('openingsPerYear', rate)
  atLeastZero('lampMilliamps', lamp)
  atLeastZero('sleepMicroamps', asleep * 1000)
  aboveZero('sendsPerOpening', sends)
  atLeastZero('idleYears', idleYears)
  const cold = temperatureFactors(celsius)
  const reservoir = readyReservoir(sender.reservoir)
  const capacity = cell.capacityMilliampHours.value * cold.capacity

  const awake = new Map<string, number>()
  for (const phase of load) {
    const name = phase.name ?? 'awake'
    const charge = (loadMillicoulombs([phase]) * sends) / MILLICOULOMBS_PER_MAH
    awake.set(name, (awake.get(name) ?? 0) + charge)
  }
  must(total(awake) > 0, 'load', loadGiven, 'a load that draws some charge')

  const awakeHours = (sum(load.map(phase => phase.milliseconds)) * sends) / HOUR
  const before = reservoir?.place === 'before-reed'
  const leak = (reservoir?.leakMicroamps ?? 0) / 1000
  const bleed = reservoir && reservoir.bleedOhms > 0 ? (cell.newVolts.value / reservoir.bleedOhms) * 1000 : 0
  const shelf = cell.capacityMilliampHours.value * cell.selfDischargePerYear.value
  const perOpening = (aYear: number): number => (rate > 0 ? aYear / rate : 0)
  // A contact that also reports closing stands on its cell all year.
  const powered = sends > 1 && rate > 0 ? HOURS_A_YEAR / rate : openHours
  const openOrAwake = Math.max(openHours, awakeHours)
  const soft = new Map<string, number>([
    ['asleep', asleep * Math.max(0, powered - awakeHours)],
    ['lamp', lamp * openOrAwake],
    ['self-discharge', perOpening(shelf)],
  ])
  const idle = new Map<string, number>([['self-discharge', shelf * idleYears]])
  if (reservoir) {
    soft.set('reservoir leak', before ? perOpening(leak * HOURS_A_YEAR) : leak * openOrAwake)
    if (before) idle.set('reservoir leak', leak * HOURS_A_YEAR * idleYears)
    if (bleed > 0) soft.set('reservoir bleed', bleed * openOrAwake)
  }

  return {
    cell,
    load,
    resetVolts,
    capacity,
    ohmsByCold: cold.ohms,
    besideMilliamps: lamp + (before ? 0 : bleed),
    awake,
    soft,
    idle,
    ...(reservoir ? { reservoir } : {}),
    sleepMilliamps: asleep,
    openMinutes: openHours * 60,
    ...(sender.openingsPerYear === undefined ? {} : { openingsPerYear: sender.openingsPerYear }),
  }
}

function readyReservoir(given: Reservoir | undefined): ReadyReservoir | undefined {
  if (given === undefined || given?.farads === 0) return undefined
  must(given instanceof Object, 'reservoir', given, 'a reservoir with farads and place')
  must(given.farads >= 1e-9 && given.farads <= 1000, 'reservoir.farads', given.farads, '0, or from 1e-9 to 1000')
  must(PLACES.includes(given.place), 'reservoir.place', given.place, `one of ${PLACES.join(', ')}`)
  const ready: ReadyReservoir = {
    farads: given.farads,
    place: given.place,
    ohms: given.ohms ?? DEFAULTS.reservoirOhms,
    leakMicroamps: given.leakMicroamps ?? DEFAULTS.leakMicroamps,
    startVolts: given.startVolts ?? DEFAULTS.startVolts,
    bleedOhms: given.bleedOhms ?? 0,
  }
  atLeastZero('reservoir.ohms', ready.ohms)
  atLeastZero('reservoir.leakMicroamps', ready.leakMicroamps)
  aboveZero('reservoir.startVolts', ready.startVolts)
  atLeastZero('reservoir.bleedOhms', ready.bleedOhms)
  return ready
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
