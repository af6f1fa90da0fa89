import { TEMPERATURE } from '../budget/ageing.ts'
import { DEFAULTS } from '../budget/basis.ts'
import { type Calibration, calibrate, cellLike } from '../budget/calibrate.ts'
import { CELLS } from '../budget/cells.ts'
import { eventBudget, hardPerOpening } from '../budget/event-budget.ts'
import { LOADS } from '../budget/loads.ts'
import { type BudgetSender, type EventBudget, PLACES, type Reservoir } from '../budget/types.ts'
import { budgetOf } from '../house.ts'
import { shown } from '../register/problems.ts'
import type { Opening, Register } from '../register/types.ts'
import { type Help, helpsOf } from './budget-helps.ts'
import { budgetPlot } from './budget-plot.ts'
import { budgetText } from './budget-text.ts'
import { readRegister, writeWhole } from './files.ts'
import { jsonText } from './json.ts'
import { plainNumber, quantity } from './quantity.ts'
import { type CommandSpec, EXIT, type Exit, type Given, Stop, type World } from './world.ts'

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
    { flags: '--json', text: 'print the figures as JSON' },
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
  const count = typeof options.calibrate === 'string' ? plainNumber(options.calibrate, '--calibrate') : undefined
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

function cellName(given: string): string {
  const found = CELLS.find(cell => cell.name.toLowerCase() === given.trim().toLowerCase())
  if (found) return found.name
  throw new Stop(EXIT.usage, `--cell wants one of ${CELLS.map(cell => cell.name).join(', ')}; found ${shown(given)}`)
}

function upTo(value: number, most: number, unit: string, option: string): number {
  if (value <= most) return value
  throw new Stop(EXIT.usage, `${option} takes at most ${most} ${unit}; found ${value}`)
}

type Changes = (sender: BudgetSender) => BudgetSender

/** What the options change; undefined when they change nothing. */
function changesOf(options: Given['options']): Changes | undefined {
  const text = (key: string): string | undefined => (typeof options[key] === 'string' ? options[key] : undefined)
  const read = <T>(key: string, make: (given: string) => T): T | undefined => {
    const given = text(key)
    return given === undefined ? undefined : make(given)
  }
  const farads = read('reservoir', given => upTo(quantity(given, 'F', '--reservoir'), 1000, 'F', '--reservoir'))
  const place = text('place') as Reservoir['place'] | undefined
  const resistance = (option: string) => (given: string) => upTo(quantity(given, 'ohm', option, 1), 1e9, 'ohm', option)
  const ohms = read('reservoirOhms', resistance('--reservoir-ohms'))
  const bleedOhms = read('bleed', resistance('--bleed'))
  if (farads === undefined && (place ?? ohms ?? bleedOhms) !== undefined) {
    throw new Stop(EXIT.usage, '--place, --reservoir-ohms and --bleed go with --reservoir')
  }
  const reservoir: Reservoir | undefined =
    farads === undefined ? undefined : { farads, place: place ?? 'before-reed', ohms, bleedOhms }
  const minutesADay = read('openMinutes', given =>
    upTo(plainNumber(given, '--open-minutes'), 1440, 'minutes, a whole day', '--open-minutes'),
  )
  const rate = read('openings', given => upTo(plainNumber(given, '--openings'), 1e6, 'a year', '--openings'))
  if (minutesADay !== undefined && rate === 0)
    throw new Stop(EXIT.usage, '--open-minutes goes with openings: with --openings 0 it never stands open')
  const plain = {
    load: text('load'),
    cell: read('cell', cellName),
    reservoir,
    lampMilliamps: read('lamp', given => upTo(quantity(given, 'A', '--lamp', 1e-3), 10, 'A', '--lamp') * 1000),
    openingsPerYear: rate,
    resetVolts: read('reset', given => upTo(quantity(given, 'V', '--reset', 1), 10, 'V', '--reset')),
    temperatureCelsius: read('temperature', given => {
      const { lowest, highest } = TEMPERATURE
      return upTo(plainNumber(given, '--temperature', lowest), highest, 'degrees Celsius', '--temperature')
    }),
  }
  const given = Object.entries(plain).filter(([, value]) => value !== undefined)
  if (!given.length && minutesADay === undefined) return undefined
  return sender => {
    const changed: BudgetSender = { ...sender, ...Object.fromEntries(given) }
    if (minutesADay === undefined) return changed
    const openingsPerYear = changed.openingsPerYear ?? DEFAULTS.openingsPerYear
    return { ...changed, openMinutes: (minutesADay * 365.25) / openingsPerYear }
  }
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

function compare(
  name: string,
  used: number,
  asRegistered: BudgetSender,
  changes: Changes | undefined,
  count: number | undefined,
): Comparison {
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
