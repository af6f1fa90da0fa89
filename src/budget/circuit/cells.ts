import { must } from '../must.ts'
import type { CellModel, Figure } from '../types.ts'
import { figure } from './figure.ts'
import { loadNamed } from './loads.ts'

/** Capacity and ageing that the calibration rests on. */
export const CALIBRATED_CAPACITY = 235
const CALIBRATED_AGEING = 0.12

/** A cell is changed after this many years at the latest (shelf life in makers' sheets, from memory). */
export const SHELF_YEARS = 10

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
  '2 % in the first year: 196 of 200 h on 3 kohm, PSG90906, Table I; 1 to 2 % a year elsewhere (as others quote it): the middle is taken; counts against capacity only',
)

/** A figure of the CR2032 that another coin cell is given for want of its own. */
const borrowed = (from: Figure): Figure => ({
  ...from,
  status: 'assumption',
  source: 'taken from the CR2032: none of this cell is at hand',
})

/** About 20 sends of a cold join (common practice, no source), by the figures above. */
const COLD_JOIN_COUNT = {
  sends: 20,
  load: loadNamed('cold-join').phases,
  resetVolts: 2.3,
  voltsPerMilliampHour: CALIBRATED_AGEING,
}

function coin(name: string, capacity: Figure): CellModel {
  const calibrated = name === 'CR2032'
  const volts = (CALIBRATED_AGEING * CALIBRATED_CAPACITY) / capacity.value
  const own = calibrated ? (known: Figure): Figure => known : borrowed
  return {
    name,
    newVolts: own(NEW_COIN_VOLTS),
    seriesOhms: own(EFFECTIVE_OHMS),
    capacityMilliampHours: capacity,
    selfDischargePerYear: own(SHELF),
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
    // Other coin cells borrow the resistance, so they borrow what fixed it.
    anchor: COLD_JOIN_COUNT,
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

/** Found in texts that quote a sheet and do not name it. */
const UNNAMED = 'as texts of the trade quote it, without the sheet'
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
      '15 kohm to 2.0 V at 21 C, Energizer form 2032NA0618 (as others quote it); PSG90906, Table I',
    ),
  ),
  coin(
    'CR2450',
    figure(
      'capacity',
      550,
      'mAh',
      'common practice',
      '550 to 620 mAh in the sheets of several makers; the lower is taken',
    ),
  ),
  coin('CR2477', figure('capacity', 1000, 'mAh', 'common practice', UNNAMED)),
  byCapacity(
    'CR123A',
    figure('rested volts, new', 3.2, 'V', 'assumption', fromMemory('Li/MnO2, the same chemistry as the coin cells')),
    figure('resistance', 0.6, 'ohm', 'assumption', fromMemory('a few tenths of an ohm; 1.5 A continuous')),
    figure('capacity', 1400, 'mAh', 'common practice', UNNAMED),
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
    figure(
      'rested volts, new',
      3.47,
      'V',
      'common practice',
      `two in series, ${UNNAMED}; the module stands at most 3.6 V`,
    ),
    figure('resistance', 0.5, 'ohm', 'assumption', fromMemory('about 0.2 to 0.25 ohm a cell')),
    figure('capacity', 1200, 'mAh', 'common practice', UNNAMED),
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
    'a fresh lithium cell of this kind may rest at 1.8 V (from memory), two at 3.6 V, which is the most that many modules stand: measure new cells before you connect them',
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
  const wanted = typeof name === 'string' ? name.trim().toLowerCase() : undefined
  const found = CELLS.find(model => model.name.toLowerCase() === wanted)
  must(found !== undefined, 'cell', name, `one of ${CELLS.map(model => model.name).join(', ')}`)
  return found as CellModel
}
