import { type Calibration, calibrate } from '../budget/calibrate.ts'
import { CELLS } from '../budget/cells.ts'
import { eventBudget, hardPerOpening } from '../budget/event-budget.ts'
import { LOADS } from '../budget/loads.ts'
import { type BudgetSender, type EventBudget, PLACES, type Reservoir } from '../budget/types.ts'
import { budgetOf } from '../house.ts'
import { shown } from '../register/problems.ts'
import type { Opening, Register } from '../register/types.ts'
import { budgetPlot } from './budget-plot.ts'
import { budgetText } from './budget-text.ts'
import { readRegister, writeWhole } from './files.ts'
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

/** A single change, tried on what the register says. */
export interface Help {
  readonly text: string
  readonly openings: EventBudget['openings']
  readonly atLeast: boolean
  /** How many times as many openings; absent where there are none now. */
  readonly times?: number
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
  if (options.json) world.stdout.write(`${JSON.stringify(comparison, null, 2)}\n`)
  else world.stdout.write(budgetText(comparison))
  return EXIT.fine
}

function cellName(given: string): string {
  const found = CELLS.find(cell => cell.name.toLowerCase() === given.trim().toLowerCase())
  if (found) return found.name
  throw new Stop(EXIT.usage, `--cell wants one of ${CELLS.map(cell => cell.name).join(', ')}; found ${shown(given)}`)
}

type Changes = (sender: BudgetSender) => BudgetSender

/** What the options change; undefined when they change nothing. */
function changesOf(options: Given['options']): Changes | undefined {
  const text = (key: string): string | undefined => (typeof options[key] === 'string' ? options[key] : undefined)
  const read = <T>(key: string, make: (given: string) => T): T | undefined => {
    const given = text(key)
    return given === undefined ? undefined : make(given)
  }
  const farads = read('reservoir', given => quantity(given, 'F', '--reservoir'))
  const place = text('place') as Reservoir['place'] | undefined
  const ohms = read('reservoirOhms', given => quantity(given, 'ohm', '--reservoir-ohms', 1))
  const bleedOhms = read('bleed', given => quantity(given, 'ohm', '--bleed', 1))
  if (farads === undefined && (place ?? ohms ?? bleedOhms) !== undefined) {
    throw new Stop(EXIT.usage, '--place, --reservoir-ohms and --bleed go with --reservoir')
  }
  const reservoir: Reservoir | undefined =
    farads === undefined ? undefined : { farads, place: place ?? 'before-reed', ohms, bleedOhms }
  const minutesADay = read('openMinutes', given => plainNumber(given, '--open-minutes'))
  const rate = read('openings', given => plainNumber(given, '--openings'))
  const plain = {
    load: text('load'),
    cell: read('cell', cellName),
    reservoir,
    lampMilliamps: read('lamp', given => quantity(given, 'A', '--lamp', 1e-3) * 1000),
    openingsPerYear: rate,
    resetVolts: read('reset', given => quantity(given, 'V', '--reset', 1)),
    temperatureCelsius: read('temperature', given => plainNumber(given, '--temperature', -273)),
  }
  const given = Object.entries(plain).filter(([, value]) => value !== undefined)
  if (!given.length && minutesADay === undefined) return undefined
  return sender => {
    const changed: BudgetSender = { ...sender, ...Object.fromEntries(given) }
    if (minutesADay === undefined) return changed
    const openingsPerYear = changed.openingsPerYear ?? 120
    if (openingsPerYear === 0) return changed
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
    ...(changes ? { after: column(changes(sender)) } : {}),
    helps: helpsOf(sender, now.budget),
    ...(calibration ? { calibration } : {}),
  }
}

/** Single changes that bring more openings, the best first. */
function helpsOf(sender: BudgetSender, now: EventBudget): Help[] {
  const reservoir: Reservoir = { farads: 0.047, place: 'before-reed' }
  const tries: [string, BudgetSender][] = [
    ...LOADS.filter(load => load.name !== sender.load).map((load): [string, BudgetSender] => [
      `load ${load.name} (${load.note})`,
      { ...sender, load: load.name },
    ]),
    ...CELLS.filter(cell => cell.name !== sender.cell).map((cell): [string, BudgetSender] => [
      `cell ${cell.name}${cell.note ? `, careful: ${cell.note}` : ''}`,
      { ...sender, cell: cell.name },
    ]),
    ...(sender.lampMilliamps ? [['no lamp', { ...sender, lampMilliamps: 0 }] as [string, BudgetSender]] : []),
    ...(sender.reservoir
      ? []
      : [['a reservoir of 47 mF before the reed', { ...sender, reservoir }] as [string, BudgetSender]]),
  ]
  const nowMedian = now.openings.p50
  const helps = tries.map(([text, tried]): Help => {
    const { openings, atLeast } = eventBudget(tried)
    return { text, openings, atLeast, ...(nowMedian > 0 ? { times: openings.p50 / nowMedian } : {}) }
  })
  return helps.filter(help => help.openings.p50 > nowMedian * 1.05).sort((a, b) => b.openings.p50 - a.openings.p50)
}
