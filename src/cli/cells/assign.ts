import type { UnknownBefore } from '../../budget/lives/ages.ts'
import type { Range } from '../../budget/types.ts'
import { historiesOf } from '../../house/cell-histories.ts'
import type { Register } from '../../register/types.ts'
import { CELL_CAUTION } from '../../text/cautions.ts'
import { tame } from '../../text/problems.ts'
import { readRegister } from '../files/register.ts'
import type { AssignJson } from '../json/cells.ts'
import { jsonText } from '../json/json-text.ts'
import type { Given } from '../program/command.ts'
import { readTally } from '../store/read-tally.ts'
import { tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import { type CellPlan, joinTimes, type ModulePlan, planCells, planModules } from './assign-plans.ts'
import type * as commands from './commands.ts'

export async function run({ args: { file }, options }: Given<typeof commands.assign>, world: World): Promise<Exit> {
  const register = await readRegister(file, world)
  const { ledger, joins } = await readTally(tallyPathOf(options), register, world, tally => ({
    ledger: tally.ledger(),
    joins: joinTimes(tally.store.entries({ whats: ['module-fitted', 'proved'] })),
  }))
  const histories = historiesOf(register, ledger, world.now())
  const modules = planModules(register, histories, joins)
  const cells = options.cells ? planCells(histories) : undefined
  world.stdout.write(
    options.json
      ? jsonText({ house: register.house, modules, ...(cells ? { cells } : {}) } satisfies AssignJson)
      : textOf(register, modules, cells),
  )
  return EXIT.fine
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
    lines.push(
      gainText(
        cellsText(cellsPerYear),
        moves.length,
        cellsPerYear.atMost ? undefined : cellsPerYear.now.p50 - cellsPerYear.best.p50,
      ),
    )
    if (moves.length) {
      lines.push('  Each moved module must be flashed with the header of its new opening and proved there.')
    }
  }
  for (const { cells: all, moves, spentWithinYear } of cells ?? []) {
    lines.push('', `cells: ${all.length} of one kind`)
    for (const { mark, from, sends, before } of moves) {
      lines.push(`  ${mark} ${names.get(mark)}: the cell of ${from} with ${usedText(sends, before)}`)
    }
    const { now, best } = spentWithinYear
    const unit = 'cells expected to be spent within a year'
    lines.push(gainText({ now: `${now.toFixed(1)} ${unit}`, best: best.toFixed(1) }, moves.length, now - best))
    if (moves.length) {
      lines.push('  Move one at a time.', `  ${CELL_CAUTION}`)
    }
  }
  lines.push(
    '',
    'The count rests on common practice and assumptions (see budget); a join time from a few tries is uncertain too.',
    nextOf(modules),
  )
  return `${lines.join('\n')}\n`
}

/** `0.4 (0.3 to 0.6) cells a year`; `at most 0.4 cells a year` where the model is a lower bound of what a cell gives. */
function cellsText({ now, best, atMost }: ModulePlan['cellsPerYear']): { now: string; best: string } {
  const text = ({ p05, p50, p95 }: Range): string =>
    atMost ? `at most ${p50.toFixed(1)}` : `${p50.toFixed(1)} (${p05.toFixed(1)} to ${p95.toFixed(1)})`
  return { now: `${text(now)} cells a year`, best: text(best) }
}

/** What a moved cell has given, and what to note of it. */
function usedText(sends: number, before: UnknownBefore | undefined): string {
  const note = (all: number): string => `note it as cell-fitted with "sends": ${all}`
  if (before === undefined) return `${sends} sends; ${note(sends)}`
  if (before === 'unknown')
    return `${sends} sends counted and nobody knows how many before; ${note(sends)} at least, more if you can guess`
  const all = sends + Math.round(before)
  return `${sends} sends counted and about ${Math.round(before)} before; ${note(all)}`
}

/** Without join times there is nothing to compare. */
const nextOf = (modules: readonly ModulePlan[]): string =>
  modules.some(({ moves }) => moves.length > 0)
    ? 'Next: sashtally emit firmware FILE for each moved module, flash it with its cell out, sashtally prove FILE MARK.'
    : modules.some(({ joins }) => joins.length < 2)
      ? 'Next: sashtally prove FILE MARK --data DIR at the bench, for each module: it notes how long a join takes.'
      : 'Next: leave them where they are; after some months of use ask again with --data DIR.'

const gainText = (cells: { now: string; best: string }, moves: number, saved: number | undefined): string =>
  moves === 0
    ? `  ${cells.now}; no exchange saves enough to be worth the work`
    : `  ${cells.now} as it is, ${cells.best} after ${moves} moves${saved === undefined ? '' : `: ${saved.toFixed(1)} saved`}`
