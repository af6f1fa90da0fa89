import { CELLS, SHELF_YEARS } from '../circuit/cells.ts'
import { eventBudget } from '../circuit/event-budget.ts'
import { LOADS } from '../circuit/loads.ts'
import type { BudgetSender, EndedBy, EventBudget, Range } from '../types.ts'

/** Cell changes a year that a person is taken to accept unless they say otherwise (our own guess). */
const CHANGES_A_YEAR = 2

/** Cells a year of one opening; the shelf life counts. */
export interface CellsPerYear {
  /** Good end; absent where the openings of a cell are a lower bound. */
  readonly p05?: number
  readonly p50: number
  readonly p95: number
}

export interface Way {
  readonly change: 'load' | 'cell' | 'load and cell' | 'reservoir' | 'lamp' | 'mains'
  /** In words: `load cached-join`. */
  readonly text: string
  /** Absent on mains and where the rate is not known. */
  readonly cellsPerYear?: CellsPerYear
  readonly atLeast?: boolean
}

export interface Suit {
  readonly verdict: 'suits' | 'does not suit' | 'not known'
  /** Absent on mains, where no rate is known, and where a new cell gives no opening. */
  readonly cellsPerYear?: CellsPerYear
  readonly openings?: Range
  readonly endedBy?: EndedBy
  /** The model leaves what is known: `openings` are lower bounds, so that `cellsPerYear` are upper ones. */
  readonly atLeast?: boolean
  readonly reasons: readonly string[]
  /** What is to be watched as it is now. */
  readonly warnings: readonly string[]
  /** Changes that would do, the smallest first; empty where it suits. */
  readonly ways: readonly Way[]
}

/**
 * Whether a contact on a cell suits an opening, from how often and how long it stands open.
 * @param sender - undefined on mains, which suits any opening
 * @param options.changesPerYear - cell changes a year that are accepted; default 2
 * @param options.bounceSeconds - a reopening later than this should be heard; default 30
 */
export function suit(
  sender: BudgetSender | undefined,
  options: { readonly changesPerYear?: number; readonly bounceSeconds?: number } = {},
): Suit {
  const most = options.changesPerYear ?? CHANGES_A_YEAR
  const bounce = options.bounceSeconds ?? 30
  if (sender === undefined)
    return { verdict: 'suits', reasons: ['on mains: no cell to change'], warnings: [], ways: [] }
  const tried = cellsPerYear(sender)
  if (typeof tried === 'string') return { verdict: 'not known', reasons: [tried], warnings: [], ways: [] }
  const { budget, cells } = tried
  const neverStarts = budget.endedBy === 'never-starts'
  const reasons = budget.warnings.slice(0, neverStarts ? 1 : 0)
  const shown = {
    openings: budget.openings,
    endedBy: budget.endedBy,
    atLeast: budget.atLeast,
    warnings: budget.warnings.slice(reasons.length),
  }
  const deaf = (budget.holdUpSeconds ?? 0) > bounce
  if (deaf) {
    reasons.push(
      `the reservoir behind the reed keeps the module asleep for ${Math.round(budget.holdUpSeconds ?? 0)} s after closing: a reopening in that time is never sent; add a bleed resistor or put it before the reed`,
    )
  }
  if (sender.openingsPerYear === undefined) {
    const known = deaf || neverStarts
    reasons.push('how often it is opened is not known: give openingsPerYear')
    return {
      verdict: known ? 'does not suit' : 'not known',
      ...shown,
      reasons,
      ways: known ? waysOf(sender, most) : [],
    }
  }
  if (!cells) {
    if (!neverStarts) reasons.push('a new cell gives no opening')
  } else if (over(cells.p50, most)) {
    reasons.push(
      `about ${rounded(cells.p50)} cells a year for ${sender.openingsPerYear} openings; ${most} are accepted`,
    )
  } else if (over(cells.p95, most)) {
    reasons.push(`${rounded(cells.p50)} cells a year, but ${rounded(cells.p95)} at the worse end of the range`)
  }
  const bad = deaf || !cells || over(cells.p50, most)
  return {
    verdict: bad ? 'does not suit' : 'suits',
    ...(cells ? { cellsPerYear: cells } : {}),
    ...shown,
    reasons,
    ways: bad ? waysOf(sender, most) : [],
  }
}

const over = (cells: number, most: number): boolean => cells > most * (1 + 1e-9)

export const rounded = (value: number): string =>
  value >= 9.95 ? value.toFixed(0) : value.toFixed(value >= 0.095 ? 1 : 2)

function cellsPerYear(sender: BudgetSender) {
  try {
    const budget = eventBudget(sender)
    return { budget, cells: cellsOf(budget, sender.openingsPerYear ?? 0) }
  } catch (error) {
    if (error instanceof RangeError) return error.message
    throw error
  }
}

function cellsOf({ openings: { p05, p50, p95 }, atLeast }: EventBudget, rate: number): CellsPerYear | undefined {
  const cells = (openings: number): number => Math.max(rate / openings, 1 / SHELF_YEARS)
  if (!(p50 > 0)) return undefined
  return { ...(atLeast ? {} : { p05: cells(p95) }), p50: cells(p50), p95: cells(p05) }
}

/** Each change by itself, then a load and a cell together; mains always does. */
function waysOf(sender: BudgetSender, most: number): Way[] {
  const bare: BudgetSender = { ...sender, reservoir: undefined }
  const ways: Way[] = []
  const tryOut = (change: Way['change'], text: string, changed: BudgetSender): void => {
    const tried = cellsPerYear(changed)
    if (typeof tried === 'string' || !tried.cells) return
    if (sender.openingsPerYear !== undefined && over(tried.cells.p50, most)) return
    const cells = sender.openingsPerYear === undefined ? {} : { cellsPerYear: tried.cells }
    ways.push({ change, text, ...cells, atLeast: tried.budget.atLeast })
  }
  const loads = LOADS.filter(load => load.name !== (sender.load ?? 'cold-join'))
  const cells = CELLS.filter(cell => cell.name !== (sender.cell ?? 'CR2032'))
  const dropped = sender.reservoir ? ', without that reservoir' : ''
  if (sender.reservoir) tryOut('reservoir', 'no reservoir', bare)
  if (sender.lampMilliamps) tryOut('lamp', `no lamp${dropped}`, { ...bare, lampMilliamps: 0 })
  for (const { name } of loads) tryOut('load', `load ${name}${dropped}`, { ...bare, load: name })
  for (const { name } of cells) tryOut('cell', `cell ${name}${dropped}`, { ...bare, cell: name })
  if (!ways.length) {
    for (const load of loads) {
      for (const cell of cells) {
        tryOut('load and cell', `load ${load.name} with cell ${cell.name}${dropped}`, {
          ...bare,
          load: load.name,
          cell: cell.name,
        })
      }
    }
  }
  ways.push({ change: 'mains', text: 'a contact on mains that reports both edges' })
  return ways
}
