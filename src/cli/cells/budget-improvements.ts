import { CELLS, SHELF_YEARS } from '../../budget/circuit/cells.ts'
import { eventBudget } from '../../budget/circuit/event-budget.ts'
import { LOADS } from '../../budget/circuit/loads.ts'
import { CAPACITY_WARNING, shelfWarning } from '../../budget/circuit/warnings.ts'
import type { BudgetSender, EventBudget, Reservoir } from '../../budget/types.ts'

/** A single change, tried on what the register says. */
export interface Improvement {
  readonly text: string
  readonly openings: EventBudget['openings']
  readonly atLeast: boolean
  /** Openings until the shelf life ends the cell; absent where the count is reached before, or no rate is known. */
  readonly shelfOpenings?: number
  /** How many times as many openings, the shelf life counted; absent where there are none now. */
  readonly times?: number
  readonly warnings: readonly string[]
}

const cellName = ({ cell = 'CR2032' }: BudgetSender): string => (typeof cell === 'string' ? cell : cell.name)

/**
 * Single changes that bring more openings, the best first; no more are claimed than the shelf life of a cell allows.
 * @param seen - a sender with its cell as a calibration sees it
 */
export function improvementsOf(
  sender: BudgetSender,
  now: EventBudget,
  seen: (sender: BudgetSender) => BudgetSender,
): Improvement[] {
  const reservoir: Reservoir = { farads: 0.047, place: 'before-reed' }
  const tries: [string, BudgetSender][] = [
    ...LOADS.filter(load => load.name !== sender.load).map((load): [string, BudgetSender] => [
      `load ${load.name} (${load.note})`,
      { ...sender, load: load.name },
    ]),
    ...CELLS.filter(cell => cell.name !== cellName(sender)).map((cell): [string, BudgetSender] => [
      `cell ${cell.name}`,
      { ...sender, cell: cell.name },
    ]),
    ...(sender.lampMilliamps ? [['no lamp', { ...sender, lampMilliamps: 0 }] as [string, BudgetSender]] : []),
    ...(sender.reservoir
      ? []
      : [['a reservoir of 47 mF before the reed', { ...sender, reservoir }] as [string, BudgetSender]]),
  ]
  const shelf = sender.openingsPerYear ? sender.openingsPerYear * SHELF_YEARS : Number.POSITIVE_INFINITY
  const reached = ({ p50 }: EventBudget['openings']): number => Math.min(p50, shelf)
  const nowReached = reached(now.openings)
  return tries
    .map(([text, tried]): Improvement => {
      const { openings, atLeast, warnings } = eventBudget(seen(tried))
      // Where the shelf life is told as the end, the capacity is none.
      const told = openings.p50 > shelf ? [CAPACITY_WARNING, shelfWarning(sender.openingsPerYear, openings.p50)] : []
      return {
        text,
        openings,
        atLeast,
        ...(openings.p50 > shelf ? { shelfOpenings: shelf } : {}),
        ...(nowReached > 0 ? { times: reached(openings) / nowReached } : {}),
        warnings: warnings.filter(warning => !now.warnings.includes(warning) && !told.includes(warning)),
      }
    })
    .filter(({ openings }) => reached(openings) > nowReached * 1.05)
    .sort((a, b) => reached(b.openings) - reached(a.openings))
}
