import { type Calibration, calibrate, cellLike } from '../../budget/circuit/calibrate.ts'
import { CELLS, cellNamed } from '../../budget/circuit/cells.ts'
import { eventBudget, hardPerOpening } from '../../budget/circuit/event-budget.ts'
import { LOADS } from '../../budget/circuit/loads.ts'
import { DEFAULTS } from '../../budget/circuit/sender.ts'
import { type BudgetSender, type EventBudget, PLACES } from '../../budget/types.ts'
import { budgetOf } from '../../house/model.ts'
import type { Opening, Register } from '../../register/types.ts'
import { shown } from '../../text/problems.ts'
import { readRegister, writeWhole } from '../shared/files.ts'
import { jsonText } from '../shared/json.ts'
import { type CommandSpec, EXIT, type Exit, type Given, Stop, type World } from '../world.ts'
import { type Changes, changesOf, countOf } from './budget-changes.ts'
import { type Help, helpsOf } from './budget-helps.ts'
import { budgetPlot } from './budget-plot.ts'
import { budgetText } from './budget-text.ts'

export const budgetCommand: CommandSpec = {
  name: 'budget',
  args: '<file>',
  summary: 'Say how many openings a cell gives, what ends it, and what a change would bring.',
  options: [
    { flags: '--sender <name>', text: 'the kind of contact; may be left out where only one runs on a cell' },
    { flags: '--load <name>', text: 'change the load', choices: LOADS.map(load => load.name) },
    { flags: '--cell <name>', text: `change the cell: ${CELLS.map(cell => cell.name).join(', ')}` },
    { flags: '--reservoir <farads>', text: 'add a capacitor, such as 47mF' },
    { flags: '--place <place>', text: 'where it sits', choices: [...PLACES] },
    { flags: '--reservoir-ohms <ohms>', text: 'its series resistance' },
    { flags: '--bleed <ohms>', text: 'a resistor across it, behind the reed' },
    { flags: '--lamp <milliamps>', text: 'a lamp that is on while open, such as 3mA' },
    { flags: '--open-minutes <minutes>', text: 'minutes a day that it stands open' },
    { flags: '--openings <count>', text: 'openings a year' },
    { flags: '--reset <volts>', text: 'the volts at which the module resets' },
    { flags: '--temperature <degrees>', text: 'degrees Celsius at the contact' },
    { flags: '--calibrate <count>', text: 'openings that your own cells gave with what the register says' },
    { flags: '--plot <file>', text: 'draw volts against openings as SVG' },
    { flags: '--json', text: 'print the figures as JSON; a bound that nobody knows is left out' },
  ],
  examples: [
    'sashtally budget examples/ropewalk.yaml --sender coin',
    'sashtally budget examples/ropewalk.yaml --sender coin --load cached-join --plot budget.svg',
    'sashtally budget examples/ropewalk.yaml --sender coin --reservoir 47mF --place before-reed --json',
  ],
  run,
}

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
  readonly helps: readonly Help[]
  readonly calibration?: Calibration
}

async function run({ args: [path = ''], options }: Given, world: World): Promise<Exit> {
  const changes = changesOf(options)
  const count = countOf(options)
  const register = await readRegister(path, world)
  const { name, sender, used } = senderOf(register, options.sender)
  let comparison: Comparison
  try {
    comparison = compare(name, used, sender, changes, count)
  } catch (error) {
    if (error instanceof RangeError) throw new Stop(EXIT.input, `sender ${shown(name)}: ${error.message}`)
    throw error
  }
  if (typeof options.plot === 'string') await writeWhole(options.plot, budgetPlot(comparison), world)
  if (options.json) world.stdout.write(jsonText(comparison))
  else world.stdout.write(budgetText(comparison))
  return EXIT.fine
}

/** The middle of what at least half of the openings say; one opening alone does not speak for its kind. */
function middle(values: readonly (number | undefined)[]): number | undefined {
  const given = values.filter(value => value !== undefined).sort((a, b) => a - b)
  return given.length * 2 < values.length ? undefined : given[Math.floor((given.length - 1) / 2)]
}

/** The kind of contact that was asked for; settings are the middle of what most of its openings say. */
function senderOf(register: Register, asked: unknown): { name: string; sender: BudgetSender; used: number } {
  const onCells = Object.values(register.senders).filter(sender => sender.power === 'cell')
  const names = onCells.map(sender => sender.name)
  const only = names.length === 1 ? names[0] : undefined
  const name = typeof asked === 'string' ? asked : only
  if (name === undefined) {
    const list = names.length
      ? `one of ${names.map(shown).join(', ')}`
      : 'a sender with a cell, and this register has none'
    throw new Stop(names.length ? EXIT.usage : EXIT.input, `--sender wants ${list}`)
  }
  const found = onCells.find(sender => sender.name === name)
  if (!found) {
    const mains = Object.hasOwn(register.senders, name)
      ? 'it is on mains: no cell, no budget'
      : 'the register has no such sender'
    throw new Stop(EXIT.input, `--sender ${shown(name)}: ${mains}; on a cell: ${names.map(shown).join(', ') || 'none'}`)
  }
  const openings = register.openings.filter(opening => opening.sender.name === name)
  const settings = (key: keyof BudgetSender & keyof Opening['settings']): number | undefined =>
    middle(openings.map(opening => opening.settings[key]))
  const first = openings[0]
  const base: BudgetSender = first
    ? budgetOf(first)
    : { cell: found.cell, load: found.load, ...(found.reports === 'both' ? { sendsPerOpening: 2 } : {}) }
  return {
    name,
    used: openings.length,
    sender: {
      ...base,
      resetVolts: settings('resetVolts'),
      openMinutes: settings('openMinutes'),
      openingsPerYear: settings('openingsPerYear'),
      lampMilliamps: settings('lampMilliamps'),
      temperatureCelsius: settings('temperatureCelsius'),
    },
  }
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

function compare(
  name: string,
  used: number,
  asRegistered: BudgetSender,
  changes: Changes | undefined,
  count: number | undefined,
): Comparison {
  if (count !== undefined) mustAge(name, asRegistered)
  const calibration = count === undefined ? undefined : calibrate(asRegistered, count)
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
  return {
    sender: name,
    used,
    now,
    ...(changes ? { after: column(seen(changes(sender))) } : {}),
    helps: helpsOf(sender, now.budget, seen),
    ...(calibration ? { calibration } : {}),
  }
}
