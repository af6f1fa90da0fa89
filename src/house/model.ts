import { TEMPERATURE } from '../budget/circuit/ageing.ts'
import { CELLS } from '../budget/circuit/cells.ts'
import { newCell } from '../budget/circuit/new-cell.ts'
import type { Shares } from '../budget/lives/cold.ts'
import type { BudgetSender } from '../budget/types.ts'
import type { Opening } from '../register/types.ts'

/** Edges a contact reports: each is a send of its cell. */
export const sendsPerOpening = (reports: Opening['sender']['reports']): number => (reports === 'both' ? 2 : 1)

/** What the budget needs of one opening; `cell` overrides the type in the register. */
export function budgetOf(opening: Opening, cell = opening.sender.cell): BudgetSender {
  const { settings, sender } = opening
  return {
    cell,
    load: sender.load,
    resetVolts: settings.resetVolts,
    openMinutes: settings.openMinutes,
    openingsPerYear: settings.openingsPerYear,
    lampMilliamps: settings.lampMilliamps,
    temperatureCelsius: settings.temperatureCelsius,
    seasonCelsius: settings.seasonCelsius,
    sendsPerOpening: sendsPerOpening(opening.sender.reports),
  }
}

/** At this opening a cell gives less than at room temperature, all the year or in its winter. */
export const isCold = ({ temperatureCelsius, seasonCelsius }: Opening['settings']): boolean =>
  Math.min(temperatureCelsius ?? Infinity, seasonCelsius?.january ?? Infinity, seasonCelsius?.july ?? Infinity) <
  TEMPERATURE.reference

export const isKnownCell = (type: string | undefined): type is string => CELLS.some(({ name }) => name === type)

export interface CellModel {
  /** Median sends of a new cell: 0 where the load never starts. */
  readonly sends: number
  /** The model leaves what is known of the cell there: it may give more. */
  readonly atLeast: boolean
  /** Whether a count is known for this cell and load at room temperature. */
  readonly countKnown: boolean
  /** In the cold: what it says if the cold counts as each of `COLD_WEIGHTS` has it. */
  readonly byWeight?: readonly ModelInCold[]
  /** Where the volts under load end a cell: millivolts of a new one and at the end, under load and rested. */
  readonly volts?: { readonly loaded: Ends; readonly rested: Ends }
}

/** Where the temperature follows the season `sends` are those at room temperature, and `shares` what is left of them. */
export interface ModelInCold {
  readonly sends: number
  readonly shares?: Shares
}

interface Ends {
  readonly new: number
  readonly end: number
}

const modelled = new Map<string, CellModel | undefined>()
/** The same by opening and cell. */
const byOpening = new WeakMap<Opening, Map<string | undefined, CellModel | undefined>>()

/** Undefined where the budget refuses a load that a register lets through. */
function modelBy(sender: BudgetSender): CellModel | undefined {
  try {
    const { ready, life, countKnown, cold } = newCell(sender)
    const perOpening = sender.sendsPerOpening ?? 1
    const inCold = (shares: Shares): ModelInCold =>
      sender.seasonCelsius
        ? { sends: life.openings * perOpening, shares }
        : { sends: cold!.room * shares[0]! * perOpening }
    const isByVolts = life.endedBy === 'volts' && !life.cut && ready.cell.ageing !== undefined
    const loaded = { new: life.newMinimum * 1000, end: ready.resetVolts * 1000 }
    const rested = { new: ready.cell.newVolts.value * 1000, end: life.endRested * 1000 }
    return {
      sends: life.openings * perOpening,
      atLeast: life.cut,
      countKnown: (cold ?? { countKnown }).countKnown,
      ...(cold ? { byWeight: cold.byWeight.map(inCold) } : {}),
      ...(isByVolts ? { volts: { loaded, rested } } : {}),
    }
  } catch (error) {
    if (error instanceof RangeError) return undefined
    throw error
  }
}

/** What the model says of a new cell in this opening; undefined without a model. */
export function modelOf(opening: Opening, cell = opening.sender.cell): CellModel | undefined {
  const known = byOpening.get(opening) ?? new Map<string | undefined, CellModel | undefined>()
  byOpening.set(opening, known)
  if (!known.has(cell)) known.set(cell, modelShared(opening, cell))
  return known.get(cell)
}

function modelShared(opening: Opening, cell: string | undefined): CellModel | undefined {
  const type = isKnownCell(cell) ? cell : opening.sender.cell
  if (!isKnownCell(type)) return undefined
  const sender = budgetOf(opening, type)
  const key = JSON.stringify(sender)
  if (!modelled.has(key)) {
    if (modelled.size > 1000) modelled.clear()
    modelled.set(key, modelBy(sender))
  }
  return modelled.get(key)
}

/** Median sends of a new cell in this opening by the model: 0 where the load never starts, undefined without a model. */
export const modelSendsOf = (opening: Opening, cell = opening.sender.cell): number | undefined =>
  modelOf(opening, cell)?.sends
