import { must } from './check.ts'
import type { CellCircuit, CellModel, Figure, Status } from './types.ts'

const figure = (name: string, value: number, unit: string, status: Status, source: string): Figure => ({
  name,
  value,
  unit,
  status,
  source,
})

/** Rested volts below which nothing is known of a coin cell under this load: common practice says 3.0 at the end. */
export const KNOWN_RESTED_VOLTS = 3.0
/** Capacity and ageing that the calibration rests on. */
const CALIBRATED_CAPACITY = 235
const CALIBRATED_AGEING = 0.12

/** Resistance against total charge: flat to 150 mAh, half as much again at 170 mAh, straight on from there. */
const GROWTH = { flatUntil: 150, halfMoreAt: 170 } as const
export const GROWTH_FIGURE = figure(
  'resistance x1 to 150 mAh of 235, x1.5 at 170 mAh',
  1.5,
  'times',
  'published',
  'Duracell CR2032 sheet as quoted: 18 to 20 ohm flat to 150 mAh, about 30 ohm at 170 mAh; the shape only, scaled by capacity',
)

/** At 21 C nothing changes; colder, resistance up and capacity down; warmer, no gain is counted. */
export const TEMPERATURE = {
  reference: 21,
  lowest: -30,
  highest: 60,
  ohmsPerDegree: 0.015,
  capacityPerDegree: 0.004,
} as const

export function temperatureFactors(celsius: number): { readonly ohms: number; readonly capacity: number } {
  must(
    Number.isFinite(celsius) && celsius >= TEMPERATURE.lowest && celsius <= TEMPERATURE.highest,
    'temperatureCelsius',
    celsius,
    `${TEMPERATURE.lowest} to ${TEMPERATURE.highest}`,
  )
  const colder = Math.max(0, TEMPERATURE.reference - celsius)
  return { ohms: 1 + TEMPERATURE.ohmsPerDegree * colder, capacity: 1 - TEMPERATURE.capacityPerDegree * colder }
}

const EFFECTIVE_OHMS = figure(
  'effective resistance',
  28 / 3,
  'ohm',
  'assumption',
  'calibrated: (3.0 V - 2.3 V) / 75 mA; at most 10.7 by short-circuit current (PSG90906, Table I), 18 to 30 in other sheets',
)
const NEW_COIN_VOLTS = figure(
  'rested volts, new',
  3.2,
  'V',
  'common practice',
  'about 3.2 V new; at least 3.20 V off load, PSG90906, Table I',
)
const SHELF = figure(
  'self-discharge',
  0.015,
  'of the capacity a year',
  'published',
  '1 to 2 % a year as quoted; the middle is taken; counts against capacity only',
)

function coin(name: string, capacity: Figure): CellModel {
  const calibrated = name === 'CR2032'
  const volts = (CALIBRATED_AGEING * CALIBRATED_CAPACITY) / capacity.value
  const ohms = calibrated
    ? EFFECTIVE_OHMS
    : { ...EFFECTIVE_OHMS, source: 'taken from the calibrated CR2032: no count is known for this cell' }
  return {
    name,
    newVolts: NEW_COIN_VOLTS,
    seriesOhms: ohms,
    capacityMilliampHours: capacity,
    selfDischargePerYear: SHELF,
    ageing: {
      ...figure(
        'rested volts lost for hard charge',
        volts,
        'V per mAh',
        calibrated ? 'common practice' : 'assumption',
        calibrated
          ? 'about 20 cold-join openings (1.667 mAh) take a cell from 3.2 V to 3.0 V rested'
          : '0.12 V per mAh x 235 mAh / capacity: true within a factor of 3 at best',
      ),
      withinFactor: calibrated ? 1 : 3,
    },
  }
}

function byCapacity(
  name: string,
  volts: Figure,
  ohms: Figure,
  capacity: Figure,
  selfDischarge: Figure,
  points: readonly (readonly [number, number])[],
  source: string,
  note?: string,
): CellModel {
  return {
    name,
    newVolts: volts,
    seriesOhms: ohms,
    capacityMilliampHours: capacity,
    selfDischargePerYear: selfDischarge,
    voltsByDepth: {
      points,
      source: figure('volts against depth', points.length, 'points', 'assumption', source),
    },
    ...(note === undefined ? {} : { note }),
  }
}

const fromMemory = (text: string): string => `${text}, from memory, not read again`

/** Built-in cells: coin cells end by ageing under hard loads, the others by capacity. */
export const CELLS: readonly CellModel[] = [
  coin(
    'CR2032',
    figure(
      'capacity',
      235,
      'mAh',
      'published',
      '15 kohm to 2.0 V at 21 C, Energizer form 2032NA0618 (quoted); PSG90906, Table I',
    ),
  ),
  coin('CR2450', figure('capacity', 550, 'mAh', 'published', '550 to 620 mAh in makers’ sheets; the lower is taken')),
  coin('CR2477', figure('capacity', 1000, 'mAh', 'published', 'makers’ sheets (quoted)')),
  byCapacity(
    'CR123A',
    figure('rested volts, new', 3.2, 'V', 'assumption', fromMemory('Li/MnO2, the same chemistry as the coin cells')),
    figure(
      'resistance',
      0.6,
      'ohm',
      'assumption',
      fromMemory('a few tenths of an ohm; 1.5 A continuous in makers’ sheets (quoted)'),
    ),
    figure('capacity', 1400, 'mAh', 'published', 'makers’ sheets (quoted)'),
    figure('self-discharge', 0.01, 'of the capacity a year', 'assumption', fromMemory('about 1 % a year')),
    [
      [0, 3.2],
      [0.05, 3.05],
      [0.5, 2.95],
      [0.8, 2.8],
      [0.9, 2.65],
      [0.95, 2.45],
      [1, 2.0],
    ],
    fromMemory('shape of a maker’s discharge curve at a light load to 2.0 V'),
  ),
  byCapacity(
    'two FR03',
    figure('rested volts, new', 3.47, 'V', 'published', 'two in series (quoted); the module stands at most 3.6 V'),
    figure('resistance', 0.5, 'ohm', 'assumption', fromMemory('about 0.2 to 0.25 ohm a cell')),
    figure('capacity', 1200, 'mAh', 'published', 'makers’ sheets (quoted)'),
    figure('self-discharge', 0.005, 'of the capacity a year', 'assumption', fromMemory('under 1 % a year')),
    [
      [0, 3.47],
      [0.02, 3.3],
      [0.5, 3.04],
      [0.8, 2.9],
      [0.95, 2.7],
      [1, 1.8],
    ],
    fromMemory('shape of a maker’s discharge curve of Li/FeS2 at a light load, two cells, to 0.9 V a cell'),
  ),
  byCapacity(
    'two LR03',
    figure('rested volts, new', 3.2, 'V', 'assumption', fromMemory('1.6 V a cell')),
    figure('resistance', 0.6, 'ohm', 'assumption', fromMemory('0.15 to 0.3 ohm a cell')),
    figure('capacity', 1100, 'mAh', 'assumption', fromMemory('1000 to 1200 mAh at a light load to 0.8 V a cell')),
    figure('self-discharge', 0.03, 'of the capacity a year', 'assumption', fromMemory('2 to 3 % a year')),
    [
      [0, 3.2],
      [0.1, 2.95],
      [0.3, 2.7],
      [0.5, 2.54],
      [0.7, 2.4],
      [0.85, 2.24],
      [0.95, 2.0],
      [1, 1.6],
    ],
    fromMemory('shape of a maker’s discharge curve of alkaline cells at a light load, two cells, to 0.8 V a cell'),
    'many modules want 3.0 V: two alkaline cells fall under that early, so a boost converter or another cell is better',
  ),
]

/** @throws RangeError for a name that is not built in */
export function cellNamed(name: string): CellModel {
  const found = CELLS.find(model => model.name.toLowerCase() === name.trim().toLowerCase())
  must(found !== undefined, 'cell', name, `one of ${CELLS.map(model => model.name).join(', ')}`)
  return found as CellModel
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
