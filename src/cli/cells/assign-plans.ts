import { SHELF_YEARS } from '../../budget/circuit/cells.ts'
import { eventBudget } from '../../budget/circuit/event-budget.ts'
import { phasesOf } from '../../budget/circuit/loads.ts'
import type { UnknownBefore } from '../../budget/lives/ages.ts'
import { type CellHistory, isDoubtful } from '../../budget/lives/cell-history.ts'
import { cellLeft, learnHouse } from '../../budget/lives/learn-house.ts'
import { meanRate, openingChances, rateOf } from '../../budget/lives/rate.ts'
import type { EventBudget, Range } from '../../budget/types.ts'
import { budgetOf } from '../../house/model.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Opening, Register } from '../../register/types.ts'
import { median } from '../../text/median.ts'
import { DAYS_IN_YEAR } from '../../text/time.ts'
import { bestSwap } from './swaps.ts'

/** A move of a module or a cell to an opening. */
export interface Move {
  readonly mark: string
  /** Where it comes from. */
  readonly from: string
}

export interface ModulePlan {
  readonly sender: string
  /** Modules with a join time, and openings left out for want of one. */
  readonly joins: readonly {
    readonly mark: string
    readonly joinMilliseconds: number
    readonly openingsPerYear: number
  }[]
  readonly unproved: readonly string[]
  readonly moves: readonly Move[]
  /** 90 % limits of the model, p05 the good end; `atMost`: the model is a lower bound of what a cell gives. */
  readonly cellsPerYear: { readonly now: Range; readonly best: Range; readonly atMost?: true }
}

export interface CellPlan {
  readonly cells: readonly { readonly mark: string; readonly sends: number; readonly before?: UnknownBefore }[]
  /** `sends` were counted; `before`: about so many more before the count began. */
  readonly moves: readonly (Move & { readonly sends: number; readonly before?: UnknownBefore })[]
  /** Cells expected to be spent within a year, over all that is uncertain. */
  readonly spentWithinYear: { readonly now: number; readonly best: number }
}

/** A moved module must be flashed, fitted and proved again: less than this, in cells a year, is not worth it. */
const MODULE_STAY = 0.05
/** Chance of one cell more or less in a year that a moved cell must be worth. */
const CELL_STAY = 0.1

/** Median of the last five join times of the module that each opening has now. */
export function joinTimes(entries: Iterable<Entry>): Map<string, number> {
  const times = new Map<string, number[]>()
  for (const { mark, what, joinMilliseconds } of entries) {
    if (what === 'module-fitted') times.delete(mark)
    if (what === 'proved' && joinMilliseconds !== undefined && joinMilliseconds > 0) {
      times.set(mark, [...(times.get(mark) ?? []), joinMilliseconds].slice(-5))
    }
  }
  return new Map([...times].map(([mark, list]) => [mark, median(list)]))
}

/**
 * Modules to openings of the same sender, so that all together spend the fewest cells a year. The register's load is
 * taken to be that of the middle module: one that joins a tenth slower is awake a tenth longer.
 */
export function planModules(
  register: Register,
  histories: readonly CellHistory[],
  joins: ReadonlyMap<string, number>,
): ModulePlan[] {
  const rates = new Map(histories.map(cell => [cell.mark, rateOf(cell)]))
  return Object.values(register.senders)
    .filter(({ power }) => power === 'cell')
    .flatMap((sender): ModulePlan[] => {
      const all = register.openings.filter(opening => opening.sender.name === sender.name && rates.has(opening.mark))
      if (all.length === 0) return []
      const ready = all.filter(({ mark }) => joins.has(mark) && rates.get(mark))
      const perYear = (mark: string): number => meanRate(rates.get(mark)!)
      const usual = ready.length ? median(ready.map(({ mark }) => joins.get(mark)!)) : 0
      const budgetAt = memo((opening: Opening, join: number) => stretched(opening, join / usual))
      const cells = (opening: Opening, module: Opening, end: keyof Range): number =>
        Math.max(
          perYear(opening.mark) / atLeastSome(budgetAt(opening, joins.get(module.mark)!).openings[end]),
          1 / SHELF_YEARS,
        )
      const cost = ready.map(module => ready.map(opening => cells(opening, module, 'p50')))
      const { from } = bestSwap(cost, MODULE_STAY)
      const sum = (end: keyof Range, of: readonly number[]): number =>
        of.reduce((all, thing, place) => all + cells(ready[place]!, ready[thing]!, end), 0)
      // what is uncertain of the model is the same for all of them: the ends add up
      const range = (of: readonly number[]): Range => ({
        p05: sum('p95', of),
        p50: sum('p50', of),
        p95: sum('p05', of),
      })
      const as = ready.map((_, place) => place)
      const atMost = ready.some(opening => budgetAt(opening, joins.get(opening.mark)!).atLeast)
      return [
        {
          sender: sender.name,
          joins: ready.map(({ mark }) => ({
            mark,
            joinMilliseconds: joins.get(mark)!,
            openingsPerYear: perYear(mark),
          })),
          unproved: all.filter(opening => !ready.includes(opening)).map(({ mark }) => mark),
          moves: movesOf(from, ready),
          cellsPerYear: { now: range(as), best: range(from), ...(atMost ? { atMost } : {}) },
        },
      ]
    })
}

/** The budget of this opening with every phase of its load so much longer. */
function stretched(opening: Opening, longer: number): EventBudget {
  const load = phasesOf(opening.sender.load ?? 'cold-join')
  return eventBudget({
    ...budgetOf(opening),
    load: load.map(phase => ({ ...phase, milliseconds: phase.milliseconds * longer })),
  })
}

/** Where it never starts a cell is taken to give a tenth of an opening: no sum becomes infinite by it. */
const atLeastSome = (openings: number): number => Math.max(0.1, openings)

function memo<T>(f: (opening: Opening, join: number) => T): typeof f {
  const known = new Map<string, T>()
  return (opening, join) => {
    const key = JSON.stringify([budgetOf(opening), join])
    const value = known.get(key) ?? f(opening, join)
    known.set(key, value)
    return value
  }
}

const movesOf = (from: readonly number[], places: readonly { readonly mark: string }[]): Move[] =>
  from.flatMap((thing, place) => (thing === place ? [] : [{ mark: places[place]!.mark, from: places[thing]!.mark }]))

/** Part-used cells to openings of the same kind, so that the fewest are expected to be spent within a year. */
export function planCells(histories: readonly CellHistory[]): CellPlan[] {
  const kinds = new Map<string, CellHistory[]>()
  for (const cell of histories) {
    if (rateOf(cell) && !isDoubtful(cell)) kinds.set(cell.kind, [...(kinds.get(cell.kind) ?? []), cell])
  }
  const learned = learnHouse(histories)
  return [...kinds].map(([kind, cells]) => {
    const cost = cells.map(cell => {
      const left = cellLeft(cell, learned.get(kind)!)
      return cells.map(place =>
        spentWithinYear(place, sends => left.surviving((sends * cell.modelMedian) / place.modelMedian)),
      )
    })
    const { from, now, best } = bestSwap(cost, CELL_STAY)
    const used = cells.map(({ mark, sends, unknownBefore: before }) => ({
      mark,
      sends,
      ...(before === undefined ? {} : { before }),
    }))
    return {
      cells: used,
      moves: movesOf(from, cells).map(move => ({ ...used.find(({ mark }) => mark === move.from)!, ...move })),
      spentWithinYear: { now, best },
    }
  })
}

/** Chance that a year's openings of a place spend more than a cell still gives. */
function spentWithinYear(place: CellHistory, sendsLeft: (sends: number) => number): number {
  const rate = rateOf(place)!
  const surviving = (openings: number): number => sendsLeft(openings * (place.sendsPerOpening ?? 1))
  const most = Math.ceil(meanRate(rate) * 4 + 40)
  const chances = openingChances(rate, DAYS_IN_YEAR, most)
  if (!chances) return 1 - surviving(meanRate(rate))
  let through = 0
  for (let k = 0; k < most; k++) {
    const still = surviving(k)
    if (still < 1e-6) break
    through += chances[k]! * still
  }
  return 1 - through
}
