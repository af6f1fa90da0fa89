import { type Calibration, calibrate, cellLike } from '../../budget/circuit/calibrate.ts'
import { CELLS, cellNamed } from '../../budget/circuit/cells.ts'
import { eventBudget, hardPerOpening } from '../../budget/circuit/event-budget.ts'
import { DEFAULTS } from '../../budget/circuit/sender.ts'
import type { BudgetSender, EventBudget, Solve } from '../../budget/types.ts'
import { shown } from '../../text/problems.ts'
import { EXIT, Stop } from '../world.ts'
import type { Changes } from './budget-changes.ts'
import { type Improvement, improvementsOf, shelfOpenings } from './budget-improvements.ts'

/** One column of the comparison. */
export interface Column {
  readonly sender: BudgetSender
  readonly budget: EventBudget
  readonly hardPerOpening: number
}

export interface Comparison {
  readonly sender: string
  /** How many openings of the register use it. */
  readonly used: number
  readonly now: Column
  readonly after?: Column
  /** Of several changes to the contact, those without which as much would be left: `the reservoir`. */
  readonly idle: readonly string[]
  /** Of what is changed, where something is. */
  readonly improvements: readonly Improvement[]
  readonly calibration?: Calibration
}

/** @throws Stop exit 1 for a cell whose end is no matter of calibration; RangeError for one that is not built in */
function mustAge(name: string, { cell = DEFAULTS.cell }: BudgetSender): void {
  if (typeof cell !== 'string' || cellNamed(cell).ageing) return
  const coins = CELLS.filter(({ ageing }) => ageing).map(one => one.name)
  throw new Stop(
    EXIT.input,
    `sender ${shown(name)}: --calibrate tells how fast the volts of a coin cell fall (${coins.join(', ')}); a ${cell} ends by its charge: leave --calibrate out`,
  )
}

/**
 * What a cell gives as the register has it, and with what is changed.
 * @param count - openings that the person's own cells gave
 * @param solve - what that count tells of them
 * @throws Stop exit 1 where a count tells nothing; RangeError for figures that no cell or load can have
 */
export function compare(
  name: string,
  used: number,
  asRegistered: BudgetSender,
  changes: Changes | undefined,
  count: number | undefined,
  solve?: Solve,
): Comparison {
  if (count !== undefined && solve !== 'resistance') mustAge(name, asRegistered)
  const calibration = count === undefined ? undefined : calibrate(asRegistered, count, { solve })
  const sender: BudgetSender = calibration ? { ...asRegistered, cell: calibration.cell } : asRegistered
  /** A cell named by an option, as the calibration sees it. */
  const seen = (of: BudgetSender): BudgetSender =>
    calibration && typeof of.cell === 'string' ? { ...of, cell: cellLike(calibration.cell, of.cell) } : of
  const column = (of: BudgetSender): Column => ({
    sender: of,
    budget: eventBudget(of),
    hardPerOpening: hardPerOpening(of),
  })
  const now = column(sender)
  const after = changes && column(seen(changes(sender)))
  const last = after ?? now
  return {
    sender: name,
    used,
    now,
    ...(after ? { after } : {}),
    idle: after ? idleChanges(now, after) : [],
    improvements: improvementsOf(last.sender, last.budget, seen),
    ...(calibration ? { calibration } : {}),
  }
}

/** What somebody builds, by its key. */
const BUILT = { load: 'the load', cell: 'the cell', reservoir: 'the reservoir', lampMilliamps: 'the lamp' } as const

/** Changes that bring nothing beside the others. */
function idleChanges(now: Column, after: Column): string[] {
  const keys = (Object.keys(BUILT) as (keyof typeof BUILT)[]).filter(key => now.sender[key] !== after.sender[key])
  if (keys.length < 2 || !(reached(after) > reached(now))) return []
  return keys
    .filter(key => {
      const sender = { ...after.sender, [key]: now.sender[key] }
      return reached(after) <= reached({ ...after, sender, budget: eventBudget(sender) }) * (1 + NO_CHANGE)
    })
    .map(key => BUILT[key])
}

/** A change of less than this part is none. */
export const NO_CHANGE = 0.05

/** Openings, the shelf life counted. */
export const reached = ({ budget, sender }: Column): number => Math.min(budget.openings.p50, shelfOpenings(sender))
