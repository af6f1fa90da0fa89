import { guaranteeOf } from '../../register/guarantee.ts'
import { parseRegister } from '../../register/parse.ts'
import { addressesOf, brokerOf, isLoopback } from '../../register/topics.ts'
import type { Register, Sender } from '../../register/types.ts'
import { listed } from '../../text/lists.ts'
import { withoutUsers } from '../../text/masked.ts'
import type { Problem } from '../../text/problem.ts'
import { formatProblem, tame } from '../../text/problems.ts'
import { columns } from '../../text/table.ts'
import { fileOrHouses } from '../files/file-or-houses.ts'
import { clashProblems, exitOf, readHouses } from '../files/houses.ts'
import { inputName, readInput } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import type { CheckJson } from '../json/check.ts'
import { jsonText } from '../json/json-text.ts'
import type { Given } from '../program/command.ts'
import { tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { futureCells } from './future-cells.ts'
import { type OlderHeader, olderHeadersByChange, olderHeadersByTally } from './older-headers.ts'
import type { OlderPassword } from './older-passwords.ts'

export async function run({ args, options }: Given<typeof commands.check>, world: World): Promise<Exit> {
  const { file, registers } = fileOrHouses('check', args.file, options.houses)
  if (file === undefined) return checkHouses(registers, options, world)
  const text = await readInput(file, world)
  const { register, problems: found } = parseRegister(text)
  const problems = register ? [...found, ...futureCells(text, register, world.now())] : found
  if (options.private !== undefined && options.tally === undefined && options.data === undefined)
    throw new Stop(EXIT.usage, '--private needs a tally that says when each module was flashed: give --tally or --data')
  const lists = register ? await moduleLists(register, options, world) : []
  if (options.json) world.stdout.write(jsonText(jsonOf(problems, lists)))
  else {
    for (const problem of problems) world.stdout.write(`${formatProblem(problem, text, inputName(file))}\n\n`)
    if (register) world.stdout.write(summaryOf(register))
    for (const hint of register ? loopbackHints(register) : []) world.stdout.write(`${hint}\n\n`)
    for (const list of lists) world.stdout.write(listText(list))
    world.stdout.write(`${tame(inputName(file))}: ${countOf(problems)}\n`)
  }
  return register ? EXIT.fine : EXIT.input
}

/** Each register by itself, and what two of them both have. */
async function checkHouses(
  folder: string,
  { tally, data, private: privateFile, against, json }: Given<typeof commands.check>['options'],
  world: World,
): Promise<Exit> {
  const forOne = { '--tally': tally, '--data': data, '--private': privateFile, '--against': against }
  const [option] = Object.entries(forOne).find(([, given]) => given !== undefined) ?? []
  if (option !== undefined) throw new Stop(EXIT.usage, `${option} is for one house: check its register alone`)
  const houses = await readHouses(folder, world)
  const clashes = clashProblems(houses)
  const found = houses.map(({ file, text, register, problems }) => ({
    file,
    text,
    problems: [
      ...problems,
      ...(register ? futureCells(text, register, world.now()) : []),
      ...(clashes.get(file) ?? []),
    ],
  }))
  if (json) world.stdout.write(jsonText({ problems: found.flatMap(({ file, problems }) => toldOf(problems, file)) }))
  else
    for (const { file, text, problems } of found) {
      for (const problem of problems) world.stdout.write(`${formatProblem(problem, text, file)}\n\n`)
      world.stdout.write(`${tame(file)}: ${countOf(problems)}\n`)
    }
  const isBad = found.some(({ problems }) => problems.some(({ severity }) => severity === 'error'))
  return isBad ? exitOf(houses) : EXIT.fine
}

interface ModuleList {
  readonly key: 'flashedBefore' | 'olderPasswords' | 'mustComeOut'
  readonly head: string
  readonly none: string
  readonly modules: readonly (OlderHeader | OlderPassword)[]
}

async function moduleLists(
  register: Register,
  options: Given<typeof commands.check>['options'],
  world: World,
): Promise<ModuleList[]> {
  const lists: ModuleList[] = []
  const at = tallyPathOf(options)
  if (at) {
    const { readTally } = await import('../store/read-tally.ts')
    const { older, flashes } = await readTally(at, register, world, ({ store }) => ({
      older: olderHeadersByTally(register, store),
      flashes: [...store.entries({ whats: ['flashed', 'module-fitted'] })],
    }))
    lists.push({
      key: 'flashedBefore',
      head: 'Modules that hold an older header:',
      none: 'No module is known to hold an older header.',
      modules: older,
    })
    if (options.private !== undefined) {
      const { mustBeOwnPrivate } = await import('./private-file.ts')
      await mustBeOwnPrivate(options.private, register, world)
      const { notePasswordTimes } = await import('./password-times.ts')
      const { olderPasswords } = await import('./older-passwords.ts')
      const marks = register.openings.map(({ mark }) => mark)
      lists.push({
        key: 'olderPasswords',
        head: 'Modules that hold an older password, and must come out and be flashed again:',
        none: 'No module is known to hold an older password.',
        modules: olderPasswords(register, flashes, await notePasswordTimes(options.private, marks, world)),
      })
    }
  }
  if (options.against !== undefined) {
    lists.push({
      key: 'mustComeOut',
      head: 'Modules that must come out and be flashed again:',
      none: 'No module must come out.',
      modules: olderHeadersByChange(await readRegister(options.against, world), register),
    })
  }
  return lists
}

const listText = ({ head, none, modules }: ModuleList): string =>
  modules.length ? `${head}\n${modules.map(({ sentence }) => `  ${tame(sentence)}\n`).join('')}\n` : `${none}\n\n`

const jsonOf = (problems: readonly Problem[], lists: readonly ModuleList[]): CheckJson => ({
  ...Object.fromEntries(lists.map(({ key, modules }) => [key, modules])),
  problems: toldOf(problems),
})

const toldOf = (problems: readonly Problem[], file?: string): CheckJson['problems'] =>
  problems.map(({ code, severity, line, column, path, message }) => ({
    ...(file === undefined ? {} : { file }),
    code,
    severity,
    line,
    column,
    path,
    message: withoutUsers(message),
  }))

const plural = (count: number, one: string): string => `${count} ${one}${count === 1 ? '' : 's'}`

function countOf(problems: readonly Problem[]): string {
  const errors = problems.filter(problem => problem.severity === 'error').length
  const warnings = problems.length - errors
  if (problems.length === 0) return 'nothing wrong'
  return `${plural(errors, 'error')}, ${plural(warnings, 'warning')}`
}

/** Addresses of the broker that nothing but this machine reaches. */
function loopbackHints({ broker }: Register): string[] {
  const here = (['mqtt', 'websocket'] as const).filter(kind =>
    addressesOf(broker, kind).some(address => isLoopback(brokerOf(address)?.host ?? '')),
  )
  if (here.length === 0) return []
  const whom = here.map(kind => (kind === 'mqtt' ? 'contact' : 'tablet'))
  return [
    `hint: the address in ${listed(here.map(kind => `broker.${kind}`))} is this machine itself: no ${whom.join(' and no ')} elsewhere reaches it. For a house give the broker's host name, such as broker.lan, before headers are made.`,
  ]
}

/** What a register says, for a person: counts, what was derived, and how surely each sender's words count. */
export function summaryOf(register: Register): string {
  const senders = Object.values(register.senders)
  const derived = (value: string, made: boolean): string => (made ? `${value} *` : value)
  const rows = register.openings.map(opening => [
    opening.mark,
    opening.name,
    derived(opening.topic, opening.topicDerived),
    derived(opening.client, opening.clientDerived),
    opening.revision,
  ])
  const anyDerived = register.openings.some(opening => opening.topicDerived || opening.clientDerived)
  return [
    `${tame(register.house)}: ${plural(register.openings.length, 'opening')}, ${plural(senders.length, 'sender')}`,
    '',
    ...columns([['mark', 'name', 'topic', 'client', 'revision'], ...rows], 60),
    ...(anyDerived ? ['* made from the mark; adding, renaming or moving an opening does not change it'] : []),
    '',
    ...senders.flatMap(sender => senderLines(sender, register)),
    'Exactly once holds while a keeper runs, and with a broker that does not hand out a packet id again at once;',
    'with one that does, it is at least once. Once a keeper runs, wire the hub to the tally (emit hub --wire tally):',
    'a rest word says that a contact fell silent, not that its window was shut.',
    '',
    '',
  ].join('\n')
}

function senderLines(sender: Sender, register: Register): string[] {
  const count = register.openings.filter(opening => opening.sender.name === sender.name).length
  const reports = sender.reports === 'both' ? 'both edges' : 'openings only'
  const power = sender.power === 'mains' ? 'mains' : (sender.cell ?? 'cell')
  return [
    `${tame(sender.name)}: ${plural(count, 'opening')}, ${reports}, ${power}`,
    `  each word counts ${guaranteeOf(sender)}`,
    '',
  ]
}
