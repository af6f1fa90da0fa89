import { HOUR } from '../../text/time.ts'
import { mustBeObject } from '../check.ts'
import { must } from '../must.ts'
import { type BudgetSender, type CellModel, SOLVES, type Solve } from '../types.ts'
import { knownVoltsOf, restedVolts } from './ageing.ts'
import { awakeMilliseconds, peakMilliamps } from './anchor.ts'
import { CELLS, cellNamed } from './cells.ts'
import { eventBudget } from './event-budget.ts'
import { hardAfter, minimumAfter, NOMINAL, totalAfter } from './life.ts'
import { root } from './root.ts'
import { type Ready, readySender } from './sender.ts'

/** Where a calibrated or assumed figure stands against a published one. */
export interface Against {
  readonly what: string
  readonly here: string
  readonly published: string
  readonly agrees: boolean
  readonly source: string
}

export interface Calibration {
  readonly solve: Solve
  readonly openings: number
  readonly voltsPerMilliampHour: number
  readonly effectiveOhms: number
  /** Rested volts after the last opening. */
  readonly endRestedVolts: number
  /** The cell with the solved figure: hand it to `eventBudget`. */
  readonly cell: CellModel
  readonly against: readonly Against[]
}

/**
 * The voltage ageing (or the resistance) that makes this kind of contact give a known count of openings.
 * Everything else stays as the sender says; the count stands for the median of several cells, not for one cell.
 * @param openings - above 0
 * @throws RangeError when no such figure exists: the capacity is gone first, or a new cell already fails
 */
export function calibrate(
  sender: BudgetSender,
  openings: number,
  options: { readonly solve?: Solve | undefined } = {},
): Calibration {
  mustBeObject('options', options, 'an object')
  const solve = options.solve ?? 'ageing'
  must(Number.isFinite(openings) && openings > 0, 'openings', openings, 'a finite number above 0')
  must(SOLVES.includes(solve), 'options.solve', solve, `one of ${SOLVES.join(', ')}`)
  const ready = readySender(sender)
  must(
    solve === 'resistance' || ready.cell.ageing !== undefined,
    'options.solve',
    solve,
    `resistance for ${ready.cell.name}, which has no ageing`,
  )
  const capacity = totalAfter(ready, openings)
  must(
    capacity <= ready.capacity,
    'openings',
    openings,
    `fewer: ${ready.capacity.toFixed(0)} mAh of capacity would be gone before`,
  )
  const margin = (cell: CellModel): number =>
    (minimumAfter({ ...ready, cell }, openings) ?? Number.NEGATIVE_INFINITY) - ready.resetVolts
  const finite = (value: number): number => Math.max(value, -1000)

  const most = ready.cell.newVolts.value / hardAfter(ready, openings)
  const highest = 1000
  const make =
    solve === 'ageing'
      ? (value: number) => withAgeing(ready.cell, value)
      : (value: number) => withOhms(ready.cell, value)
  const from = solve === 'ageing' ? Number.MIN_VALUE : 1e-6
  const to = solve === 'ageing' ? most : highest
  must(
    margin(make(from)) >= 0,
    'openings',
    openings,
    solve === 'ageing'
      ? `a count that a cell which does not age could give: under this load a new ${ready.cell.name} already falls under ${ready.resetVolts} V`
      : `a count after which the rested volts are still over the reset of ${ready.resetVolts} V`,
  )
  const solved = make(margin(make(to)) >= 0 ? to : root(value => finite(margin(make(value))), from, to))
  const endRestedVolts = restedVolts(solved, hardAfter({ ...ready, cell: solved }, openings), capacity, NOMINAL)
  const cell: CellModel = {
    ...knownTo(solved, endRestedVolts),
    anchor: {
      sends: openings * (sender.sendsPerOpening ?? 1),
      load: ready.load,
      resetVolts: ready.resetVolts,
      voltsPerMilliampHour: solved.ageing?.value ?? 0,
    },
  }
  return {
    solve,
    openings,
    voltsPerMilliampHour: cell.ageing?.value ?? 0,
    effectiveOhms: cell.seriesOhms.value,
    endRestedVolts,
    cell,
    against: against({ ...ready, cell }, openings, capacity, sender),
  }
}

const withAgeing = (cell: CellModel, value: number): CellModel => ({
  ...cell,
  ...(cell.ageing
    ? {
        ageing: {
          ...cell.ageing,
          value,
          withinFactor: 1,
          status: 'assumption',
          source: 'calibrated from your own count',
        },
      }
    : {}),
})
const withOhms = (cell: CellModel, value: number): CellModel => ({
  ...cell,
  seriesOhms: { ...cell.seriesOhms, value, status: 'assumption', source: 'calibrated from your own count' },
})

/** The count itself says how the cell ages, down to where it ends. */
const knownTo = (cell: CellModel, volts: number): CellModel =>
  cell.ageing ? { ...cell, ageing: { ...cell.ageing, knownVolts: volts } } : cell

/**
 * A built-in cell as a calibration of another sees it: coin cells of other sizes take their ageing and their resistance
 * from the same trade figures, so what a person's own count changes there changes it for all of them alike.
 * @throws RangeError for a name that is not built in
 */
export function cellLike(calibrated: CellModel, name: string): CellModel {
  const model = cellNamed(name)
  if (model.name === calibrated.name) return calibrated
  const usual = CELLS.find(cell => cell.name === calibrated.name)?.ageing
  if (!model.ageing || !calibrated.ageing || !usual) return model
  const by = calibrated.ageing.value / usual.value
  const source = `${model.ageing.source}; times ${by.toPrecision(3)}, as your own count of the ${calibrated.name} says`
  const ageing = { ...model.ageing, value: model.ageing.value * by, status: 'assumption', source } as const
  const { seriesOhms, anchor } = calibrated
  return knownTo({ ...model, ageing, seriesOhms, ...(anchor ? { anchor } : {}) }, knownVoltsOf(calibrated))
}

function against(ready: Ready, openings: number, gone: number, sender: BudgetSender): Against[] {
  const { cell } = ready
  const coin = cell.ageing !== undefined
  const ohms = cell.seriesOhms.value
  const rested = restedVolts(cell, hardAfter(ready, openings), gone, NOMINAL)
  const awake = awakeMilliseconds(ready.load) / HOUR
  const mean = [...ready.awake.values()].reduce((sum, value) => sum + value, 0) / awake / (sender.sendsPerOpening ?? 1)
  const peak = peakMilliamps(ready.load)
  const { anchor: _, ...fixed } = cell
  const strict = eventBudget({ ...sender, cell: fixed, resetVolts: 2.51 }).openings.p50
  const row = (what: string, here: string, published: string, agrees: boolean, source: string): Against => ({
    what,
    here,
    published,
    agrees,
    source,
  })
  const cellRows = [
    row(
      'resistance',
      `${ohms.toFixed(2)} ohm`,
      'at most 10.7 ohm',
      ohms <= 10.7,
      'short-circuit current of a new cell, PSG90906, Table I',
    ),
    row(
      'resistance',
      `${ohms.toFixed(2)} ohm`,
      '18 to 30 ohm',
      ohms >= 18 && ohms <= 30,
      'Duracell CR2032 sheet (as others quote it)',
    ),
    row(
      'resistance',
      `${ohms.toFixed(2)} ohm`,
      '30.3 ohm after 2 s at 6.8 mA',
      Math.abs(ohms - 30.3) < 3,
      'Energizer form 2032NA0618 (as others quote it)',
    ),
    row(
      'rested volts at the end',
      `${rested.toFixed(2)} V`,
      'about 3.0 V',
      Math.abs(rested - 3) <= 0.05,
      'common practice, no source',
    ),
  ]
  return [
    ...(coin ? cellRows : []),
    row(
      'mean current awake',
      `${mean.toFixed(0)} mA`,
      '60.5 to 87 mA in receive alone',
      mean >= 60.5 && mean <= 87,
      'ATWILC3000A s. 8.2.2 (60.5 mA), ESP32-C3 Series Datasheet v2.4, Table 5-7 (84 to 87 mA)',
    ),
    row(
      'highest current',
      `${peak.toFixed(0)} mA`,
      '272 to 335 mA in a transmit burst',
      peak >= 272 && peak <= 335,
      'the same tables: 272 mA, and 276 to 335 mA by mode',
    ),
    row(
      'openings with a 2.51 V brown-out and this resistance',
      strict.toFixed(1),
      'the default level of one chip',
      strict >= 1,
      'ESP-IDF Kconfig.power',
    ),
  ]
}
