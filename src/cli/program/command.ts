import { listed } from '../../text/lists.ts'
import { withoutUsers } from '../../text/masked.ts'
import { shown } from '../../text/problems.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import { type Arguments, longOf, type Options, STDIN, type ValuesOf } from './option.ts'

/** What a command is called, takes and does; it makes the parser, the help, the manual and the shell completions. */
export interface Definition<A extends Arguments = Arguments, O extends Options = Options> {
  /** `check`, or two words for one of a group: `emit hub`. */
  readonly name: string
  readonly summary: string
  /** In their order. */
  readonly args: A
  readonly options: O
  /** Whole command lines over the files in examples/. */
  readonly examples: readonly string[]
  /** What a person does after it. */
  readonly next?: string
  /** The account at a broker with accounts. */
  readonly account?: string
}

/** What stands below the options of a command, where there is something to say. */
export const closingLines = ({ account, next }: Definition): readonly string[] => [
  ...(account === undefined ? [] : [`Account at the broker: ${account}.`]),
  ...(next === undefined ? [] : [`Next: ${next}.`]),
]

/** Arguments and options as the definition of a command reads them. */
export type Given<D extends Definition> = {
  readonly args: ValuesOf<D['args']>
  readonly options: ValuesOf<D['options']>
}

/** Words of a command line, sorted but not read yet; an option that takes no value has one empty text. */
export interface Typed {
  readonly args: readonly string[]
  readonly options: Readonly<Record<string, readonly string[]>>
}

/** A command of the table, whose code is loaded when it runs. */
export interface Command extends Definition {
  /** @throws Stop exit 2 with a sentence for each value that cannot be read */
  run(typed: Typed, world: World, groups: readonly CommandGroup[]): Promise<Exit>
}

/** Commands that a person meets together. */
export interface CommandGroup {
  readonly heading: string
  readonly commands: readonly Command[]
}

/** Keeps the types of a definition, so that what the command is given follows from them. */
export const define = <A extends Arguments, O extends Options>(definition: Definition<A, O>): Definition<A, O> =>
  definition

/** A command from its definition and the module that runs it. */
export function command<A extends Arguments, O extends Options>(
  definition: Definition<A, O>,
  load: () => Promise<{
    run(given: Given<Definition<A, O>>, world: World, groups: readonly CommandGroup[]): Promise<Exit>
  }>,
): Command {
  return {
    ...definition,
    async run(typed, world, groups) {
      const given = readGiven(definition, typed)
      const { run } = await load()
      return run(given, world, groups)
    },
  }
}

/**
 * Reads what was typed by the definition of a command.
 * @throws Stop exit 2 with a sentence for each value that cannot be read
 */
export function readGiven<A extends Arguments, O extends Options>(
  { args, options }: Definition<A, O>,
  typed: Typed,
): Given<Definition<A, O>> {
  const wrong: string[] = []
  const refuse = (name: string, wants: string, found: string): void =>
    // A password in an address must not be shown again.
    void wrong.push(`${name} wants ${wants}; found ${shown(withoutUsers(found))}`)
  const readArgument = ([name, argument]: [string, Arguments[string]], index: number): [string, unknown] => {
    const all = argument.isMany ? typed.args.slice(index) : [typed.args[index] ?? argument.fallback ?? '']
    const found = all.join(' ')
    const reading = argument.read(all)
    if ('value' in reading) return [name, reading.value]
    refuse(`<${name}>`, reading.wants, found)
    return [name, undefined]
  }
  const readOption = ([name, option]: [string, Options[string]]): [string, unknown] => {
    const reading = option.read(typed.options[name] ?? [])
    if ('value' in reading) return [name, reading.value]
    if ('isMissing' in reading) wrong.push(`give ${longOf(name)} <${option.value}>: ${option.text}`)
    else refuse(longOf(name), reading.wants, reading.found)
    return [name, undefined]
  }
  const given = {
    args: Object.fromEntries(Object.entries(args).map(readArgument)),
    options: Object.fromEntries(Object.entries(options).map(readOption)),
  }
  const ofStdin = Object.entries(args).flatMap(([name, { isInput }], index) =>
    isInput && typed.args[index] === STDIN ? [`<${name}>`] : [],
  )
  if (ofStdin.length > 1) wrong.push(`only one of ${listed(ofStdin)} can be standard input (${STDIN})`)
  if (wrong.length > 0) throw new Stop(EXIT.usage, wrong.join('\nsashtally: '))
  // Each value was read by the definition of its own name.
  return given as Given<Definition<A, O>>
}
