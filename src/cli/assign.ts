import { eventBudget } from '../budget/event-budget.ts'
import { lifeLeft } from '../budget/forecast.ts'
import type { CellHistory } from '../budget/left.ts'
import { phasesOf } from '../budget/loads.ts'
import { DAYS_IN_YEAR, meanRate, openingChances, rateOf } from '../budget/rate.ts'
import { budgetOf, historiesOf } from '../house.ts'
import type { Entry } from '../ledger/types.ts'
import { tame } from '../register/problems.ts'
import type { Opening, Register } from '../register/types.ts'
import { readRegister } from './files.ts'
import { readEntries, tallyPlaceOf } from './history.ts'
import { ledgerOf } from './lives.ts'
import { bestSwap } from './swaps.ts'
import { type CommandSpec, EXIT, type Exit, type Given, type World } from './world.ts'

export const assignCommand: CommandSpec = {
  name: 'assign',
  args: '<file>',
  summary: 'Say which module serves which opening best, from bench join times and how often each is opened.',
  options: [
    { flags: '--tally <file>', text: 'the tally: one entry a line; it holds join times, openings and cells' },
    { flags: '--data <dir>', text: "the keeper's folder, in place of --tally" },
    { flags: '--cells', text: 'also say which part-used cells to move' },
    { flags: '--json', text: 'print the figures as JSON' },
  ],
  examples: ['sashtally assign examples/ropewalk.yaml'],
  run,
}

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
  readonly cellsPerYear: { readonly now: number; readonly best: number }
}

export interface CellPlan {
  readonly cells: readonly { readonly mark: string; readonly sends: number }[]
  readonly moves: readonly (Move & { readonly sends: number })[]
  /** Cells expected to be spent within a year. */
  readonly spentWithinYear: { readonly now: number; readonly best: number }
}

/** A moved module must be flashed, fitted and proved again: less than this, in cells a year, is not worth it. */
const MODULE_STAY = 0.05
/** Chance of one cell more or less in a year that a moved cell must be worth. */
const CELL_STAY = 0.1

async function run({ args: [path = ''], options }: Given, world: World): Promise<Exit> {
  const register = await readRegister(path, world)
  const entries = await readEntries(tallyPlaceOf(options), world, { register })
  const histories = historiesOf(register, ledgerOf(register, entries), world.now())
  const modules = planModules(register, histories, joinTimes(entries))
  const cells = options.cells ? planCells(histories) : undefined
  world.stdout.write(
    options.json
      ? `${JSON.stringify({ house: register.house, modules, ...(cells ? { cells } : {}) }, undefined, 2)}\n`
      : textOf(register, modules, cells),
  )
  return EXIT.fine
}

/** Median of the last five join times of the module that each opening has now. */
export function joinTimes(entries: readonly Entry[]): Map<string, number> {
  const times = new Map<string, number[]>()
  for (const { mark, what, joinMilliseconds } of entries) {
    if (what === 'module-fitted') times.delete(mark)
    if (what === 'proved' && joinMilliseconds !== undefined && joinMilliseconds > 0) {
      times.set(mark, [...(times.get(mark) ?? []), joinMilliseconds].slice(-5))
    }
  }
  return new Map([...times].map(([mark, list]) => [mark, middle(list)]))
}

function middle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  return (sorted[(sorted.length - 1) >> 1]! + sorted[sorted.length >> 1]!) / 2
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
      const usual = ready.length ? middle(ready.map(({ mark }) => joins.get(mark)!)) : 0
      const sendsOf = memo((opening: Opening, join: number) => sendsAt(opening, join / usual))
      const cost = ready.map(({ mark: module }) =>
        ready.map(opening => perYear(opening.mark) / sendsOf(opening, joins.get(module)!)),
      )
      const { from, now, best } = bestSwap(cost, MODULE_STAY)
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
          cellsPerYear: { now, best },
        },
      ]
    })
}

/** Sends of a new cell in this opening with every phase of its load so much longer; a little over 0 where it never starts. */
function sendsAt(opening: Opening, longer: number): number {
  const budget = budgetOf(opening)
  const load = phasesOf(opening.sender.load ?? 'cold-join')
  const stretched = load.map(phase => ({ ...phase, milliseconds: phase.milliseconds * longer }))
  return Math.max(0.1, eventBudget({ ...budget, load: stretched }).openings.p50)
}

function memo(f: (opening: Opening, join: number) => number): typeof f {
  const known = new Map<string, number>()
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
    if (!cell.silentBeyond99 && rateOf(cell)) kinds.set(cell.kind, [...(kinds.get(cell.kind) ?? []), cell])
  }
  return [...kinds.values()].map(cells => {
    const past = histories.flatMap(({ kind, past }) => past.filter(life => (life.kind ?? kind) === cells[0]!.kind))
    const cost = cells.map(cell => {
      const others = cells.flatMap(other => (other === cell ? [] : [{ runningAt: other.sends }]))
      const left = lifeLeft({ ...cell, history: [...past, ...others] })
      return cells.map(place =>
        spentWithinYear(place, sends => left.surviving((sends * cell.modelMedian) / place.modelMedian)),
      )
    })
    const { from, now, best } = bestSwap(cost, CELL_STAY)
    const sends = new Map(cells.map(cell => [cell.mark, cell.sends]))
    return {
      cells: cells.map(({ mark, sends }) => ({ mark, sends })),
      moves: movesOf(from, cells).map(move => ({ ...move, sends: sends.get(move.from)! })),
      spentWithinYear: { now, best },
    }
  })
}

/** Chance that a year's openings of a place are more than a cell still gives. */
function spentWithinYear(place: CellHistory, surviving: (sends: number) => number): number {
  const rate = rateOf(place)!
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

function textOf(register: Register, modules: readonly ModulePlan[], cells: readonly CellPlan[] | undefined): string {
  const names = new Map(register.openings.map(({ mark, name }) => [mark, tame(name)]))
  const lines = [`${tame(register.house)}: which module where`]
  if (modules.length === 0) lines.push('', 'No opening runs on a cell that the model knows.')
  for (const { sender, joins, unproved, moves, cellsPerYear } of modules) {
    lines.push('', `${tame(sender)}: ${joins.length} modules with a join time from the bench`)
    if (unproved.length) lines.push(`  left out, not proved at the bench with a time yet: ${unproved.join(', ')}`)
    if (joins.length < 2) {
      lines.push('  two are needed before one can be exchanged for another')
      continue
    }
    const seconds = new Map(joins.map(join => [join.mark, (join.joinMilliseconds / 1000).toFixed(1)]))
    const perYear = new Map(joins.map(join => [join.mark, join.openingsPerYear.toFixed(0)]))
    for (const { mark, from } of moves) {
      lines.push(
        `  ${mark} ${names.get(mark)} (${perYear.get(mark)} a year): the module of ${from}, which joins in ${seconds.get(from)} s, instead of ${seconds.get(mark)} s`,
      )
    }
    lines.push(gainText(cellsPerYear, moves.length, 'cells a year'))
    if (moves.length) {
      lines.push('  Each moved module must be flashed with the header of its new opening and proved there.')
    }
  }
  for (const { cells: all, moves, spentWithinYear } of cells ?? []) {
    lines.push('', `cells: ${all.length} of one kind`)
    for (const { mark, from, sends } of moves) {
      lines.push(
        `  ${mark} ${names.get(mark)}: the cell of ${from} with ${sends} sends; note it as cell-fitted with "sends": ${sends}`,
      )
    }
    lines.push(gainText(spentWithinYear, moves.length, 'cells expected to be spent within a year'))
    if (moves.length) {
      lines.push(
        '  One at a time, and no loose cell within reach of a child: swallowed, it kills. Never solder to one.',
      )
    }
  }
  lines.push(
    '',
    'The count rests on common practice and assumptions (see budget); a join time from a few tries is uncertain too.',
  )
  return `${lines.join('\n')}\n`
}

const gainText = ({ now, best }: { now: number; best: number }, moves: number, unit: string): string =>
  moves === 0
    ? `  ${now.toFixed(1)} ${unit}; no exchange saves enough to be worth the work`
    : `  ${now.toFixed(1)} ${unit} as it is, ${best.toFixed(1)} after ${moves} moves: ${(now - best).toFixed(1)} saved`
