import { CELLS, SHELF_YEARS } from '../../budget/circuit/cells.ts'
import { eventBudget } from '../../budget/circuit/event-budget.ts'
import { LOADS } from '../../budget/circuit/loads.ts'
import { CAPACITY_WARNING, shelfWarning } from '../../budget/circuit/warnings.ts'
import type { BudgetSender, EventBudget, Reservoir } from '../../budget/types.ts'

/** A single change, tried on what the register says. */
export interface Improvement {
  readonly text: string
  /** In a sentence: `a shorter join`. */
  readonly short: string
  /** Another part must be bought and fitted. */
  readonly needsPart: boolean
  readonly openings: EventBudget['openings']
  readonly atLeast: boolean
  /** Openings until the shelf life ends the cell; absent where the count is reached before, or no rate is known. */
  readonly shelfOpenings?: number
  /** How many times as many openings, the shelf life counted; absent where there is not one now. */
  readonly times?: number
  readonly warnings: readonly string[]
}

/** Openings until the shelf life of a cell is over; Infinity where no rate is known. */
export const shelfOpenings = ({ openingsPerYear }: BudgetSender): number =>
  openingsPerYear ? openingsPerYear * SHELF_YEARS : Number.POSITIVE_INFINITY

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
  const tries: [text: string, short: string, tried: BudgetSender][] = [
    ...LOADS.filter(load => load.name !== sender.load).map((load): (typeof tries)[number] => [
      `load ${load.name} (${load.note})`,
      'a shorter join',
      { ...sender, load: load.name },
    ]),
    ...CELLS.filter(cell => cell.name !== cellName(sender)).map((cell): (typeof tries)[number] => [
      `cell ${cell.name}`,
      `the cell ${cell.name}`,
      { ...sender, cell: cell.name },
    ]),
  ]
  if (sender.lampMilliamps) tries.push(['no lamp', 'no lamp', { ...sender, lampMilliamps: 0 }])
  if (sender.reservoir) tries.push(['no reservoir', 'no reservoir', { ...sender, reservoir: undefined }])
  else {
    const text = 'a reservoir of 47 mF before the reed'
    tries.push([text, text, { ...sender, reservoir }])
  }
  const shelf = shelfOpenings(sender)
  const reached = ({ p50 }: EventBudget['openings']): number => Math.min(p50, shelf)
  const nowReached = reached(now.openings)
  return tries
    .map(([text, short, tried]): Improvement => {
      const { openings, atLeast, warnings } = eventBudget(seen(tried))
      // Where the shelf life is told as the end, the capacity is none.
      const told = openings.p50 > shelf ? [CAPACITY_WARNING, shelfWarning(sender.openingsPerYear, openings.p50)] : []
      return {
        text,
        short,
        needsPart: tried.cell !== sender.cell || (tried.reservoir !== undefined && !sender.reservoir),
        openings,
        atLeast,
        ...(openings.p50 > shelf ? { shelfOpenings: shelf } : {}),
        ...(nowReached >= 1 ? { times: reached(openings) / nowReached } : {}),
        warnings: warnings.filter(warning => !now.warnings.includes(warning) && !told.includes(warning)),
      }
    })
    .filter(({ openings }) => reached(openings) > nowReached * 1.05)
    .sort((a, b) => reached(b.openings) - reached(a.openings))
}
