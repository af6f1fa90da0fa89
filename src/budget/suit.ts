import { CELLS, SHELF_YEARS } from './cells.ts'
import { eventBudget } from './event-budget.ts'
import { LOADS } from './loads.ts'
import type { BudgetSender, Range } from './types.ts'

/** Cell changes a year that a person is taken to accept unless they say otherwise (our own guess). */
export const CHANGES_A_YEAR = 2

export interface Way {
  readonly change: 'load' | 'cell' | 'load and cell' | 'reservoir' | 'lamp' | 'mains'
  /** In words: `load cached-join`. */
  readonly text: string
  /** Absent on mains and where the rate is not known. */
  readonly cellsPerYear?: Range
  readonly atLeast?: boolean
}

export interface Suit {
  readonly verdict: 'suits' | 'does not suit' | 'not known'
  /** Cells a year; p05 is the good end, Infinity where it never starts. Absent on mains and where no rate is known. */
  readonly cellsPerYear?: Range
  readonly openings?: Range
  /** The model leaves what is known: `openings` are lower bounds, so that `cellsPerYear` are upper ones. */
  readonly atLeast?: boolean
  readonly reasons: readonly string[]
  /** Changes that would do, the smallest first; empty where it suits. */
  readonly ways: readonly Way[]
}

const fewer = (rate: number, openings: number): number =>
  openings > 0 ? Math.max(rate / openings, 1 / SHELF_YEARS) : Number.POSITIVE_INFINITY

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
  if (!sender) return { verdict: 'suits', reasons: ['on mains: no cell to change'], ways: [] }
  const tried = cellsPerYear(sender)
  if (typeof tried === 'string') return { verdict: 'not known', reasons: [tried], ways: [] }
  const { budget, cells } = tried
  const shown = { openings: budget.openings, atLeast: budget.atLeast }
  const reasons: string[] = []
  if (budget.endedBy === 'never-starts') reasons.push(...budget.warnings.slice(0, 1))
  const deaf = (budget.holdUpSeconds ?? 0) > bounce
  if (deaf) {
    reasons.push(
      `the reservoir behind the reed keeps the module asleep for ${Math.round(budget.holdUpSeconds ?? 0)} s after closing: a reopening in that time is never sent; add a bleed resistor or put it before the reed`,
    )
  }
  if (sender.openingsPerYear === undefined) {
    const known = deaf || budget.endedBy === 'never-starts'
    reasons.push('how often it is opened is not known: give openingsPerYear')
    return {
      verdict: known ? 'does not suit' : 'not known',
      ...shown,
      reasons,
      ways: known ? waysOf(sender, most) : [],
    }
  }
  if (!Number.isFinite(cells.p50)) {
    if (budget.endedBy !== 'never-starts') reasons.push('a new cell gives no opening')
  } else if (over(cells.p50, most)) {
    reasons.push(
      `about ${rounded(cells.p50)} cells a year for ${sender.openingsPerYear} openings; ${most} are accepted`,
    )
  } else if (over(cells.p95, most)) {
    reasons.push(
      Number.isFinite(cells.p95)
        ? `${rounded(cells.p50)} cells a year, but ${rounded(cells.p95)} at the worse end of the range`
        : `${rounded(cells.p50)} cells a year, but at the worse end of the range a new cell does not start the module`,
    )
  }
  const bad = deaf || budget.endedBy === 'never-starts' || over(cells.p50, most)
  return {
    verdict: bad ? 'does not suit' : 'suits',
    cellsPerYear: cells,
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
    const rate = sender.openingsPerYear ?? 0
    const { p05, p50, p95 } = budget.openings
    return { budget, cells: { p05: fewer(rate, p95), p50: fewer(rate, p50), p95: fewer(rate, p05) } }
  } catch (error) {
    if (error instanceof RangeError) return error.message
    throw error
  }
}

/** Each change by itself, then a load and a cell together; mains always does. */
function waysOf(sender: BudgetSender, most: number): Way[] {
  const bare: BudgetSender = { ...sender, reservoir: undefined }
  const ways: Way[] = []
  const tryOut = (change: Way['change'], text: string, changed: BudgetSender): void => {
    const tried = cellsPerYear(changed)
    if (typeof tried === 'string' || tried.budget.endedBy === 'never-starts') return
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
