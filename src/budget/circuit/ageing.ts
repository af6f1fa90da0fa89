import { must } from '../must.ts'
import type { CellCircuit, CellModel, Figure } from '../types.ts'
import { CALIBRATED_CAPACITY } from './cells.ts'

/** Rested volts below which nothing is known of a coin cell under this load: common practice says 3.0 at the end. */
const KNOWN_RESTED_VOLTS = 3.0
/** As far as the ageing of this cell is known; a person's own count reaches to where their cells ended. */
export const knownVoltsOf = ({ ageing }: CellModel): number =>
  Math.min(KNOWN_RESTED_VOLTS, ageing?.knownVolts ?? KNOWN_RESTED_VOLTS)
/** Resistance against total charge: flat to 150 mAh, half as much again at 170 mAh, straight on from there. */
const GROWTH = { flatUntil: 150, halfMoreAt: 170 } as const
export const GROWTH_FIGURE: Figure = {
  name: 'resistance x1 to 150 mAh of 235, x1.5 at 170 mAh',
  value: 1.5,
  unit: 'times',
  status: 'published',
  source:
    'Duracell CR2032 sheet (as others quote it): 18 to 20 ohm flat to 150 mAh, about 30 ohm at 170 mAh; the shape only, scaled by capacity, and straight on beyond (assumption)',
}

/** At 21 C nothing changes; colder, resistance up and capacity down; warmer, no gain is counted. */
export const TEMPERATURE = {
  reference: 21,
  lowest: -30,
  highest: 60,
  ohmsPerDegree: 0.015,
  capacityPerDegree: 0.004,
} as const

/** @throws RangeError that names the argument */
export const mustBeDegrees = (name: string, celsius: number): void =>
  must(
    celsius >= TEMPERATURE.lowest && celsius <= TEMPERATURE.highest,
    name,
    celsius,
    `${TEMPERATURE.lowest} to ${TEMPERATURE.highest}`,
  )

export function temperatureFactors(celsius: number): { readonly ohms: number; readonly capacity: number } {
  mustBeDegrees('temperatureCelsius', celsius)
  const colder = Math.max(0, TEMPERATURE.reference - celsius)
  return { ohms: 1 + TEMPERATURE.ohmsPerDegree * colder, capacity: 1 - TEMPERATURE.capacityPerDegree * colder }
}

/** Changes to a cell, for a range or a calibration. */
export interface CellTweak {
  readonly ohmsFactor: number
  readonly ageingFactor: number
}

/**
 * The cell as a circuit after some charge.
 * @param hard - mAh drawn awake: rested volts fall with it
 * @param total - all mAh that are gone: resistance grows with it, and the table of other cells is read by it
 */
export function cellAfter(
  model: CellModel,
  hard: number,
  total: number,
  ohmsByCold: number,
  tweak: CellTweak,
): CellCircuit {
  const capacity = model.capacityMilliampHours.value
  const growth = model.ageing ? growthAt((total * CALIBRATED_CAPACITY) / capacity) : 1
  const factor = growth * ohmsByCold * tweak.ohmsFactor
  return {
    restedVolts: Math.max(0, restedVolts(model, hard, total, tweak)),
    seriesOhms: model.seriesOhms.value * factor,
    polarisationOhms: (model.polarisationOhms ?? 0) * factor,
    polarisationFarads: model.polarisationFarads ?? 0,
  }
}

export function restedVolts(model: CellModel, hard: number, total: number, tweak: CellTweak): number {
  if (model.ageing) return model.newVolts.value - model.ageing.value * tweak.ageingFactor * hard
  const points = model.voltsByDepth?.points ?? []
  const depth = total / model.capacityMilliampHours.value
  const after = points.findIndex(([at]) => at >= depth)
  if (after === 0) return points[0]?.[1] ?? model.newVolts.value
  const high = points[after]
  const low = points[after - 1]
  if (!high || !low) return points.at(-1)?.[1] ?? model.newVolts.value
  return low[1] + ((high[1] - low[1]) * (depth - low[0])) / (high[0] - low[0])
}

const growthAt = (total: number): number =>
  total <= GROWTH.flatUntil ? 1 : 1 + (0.5 * (total - GROWTH.flatUntil)) / (GROWTH.halfMoreAt - GROWTH.flatUntil)
