import { Command, CommanderError, Option } from 'commander'
import { COMMANDS, GROUPS } from './commands.ts'
import { version } from './version.ts'
import { type CommandSpec, EXIT, type Exit, type Given, Stop, type World } from './world.ts'

const headingOf = (spec: CommandSpec): string =>
  `${GROUPS.find(({ commands }) => commands.includes(spec))?.heading ?? 'Commands'}:`

/** Builds the parser from the command table; `onRun` is called with the command that was asked for. */
export function programOf(
  specs: readonly CommandSpec[],
  world: World,
  onRun: (spec: CommandSpec, given: Given) => void,
): Command {
  const dress = (command: Command): Command =>
    command
      .exitOverride()
      .showHelpAfterError('(see --help)')
      .helpOption('-h, --help', 'say how to use it')
      .helpCommand(false)
      .configureOutput({
        writeOut: text => world.stdout.write(text),
        writeErr: text => world.stderr.write(text),
        getOutHelpWidth: () => world.stdout.columns,
        getErrHelpWidth: () => world.stderr.columns,
        getOutHasColors: () => false,
        getErrHasColors: () => false,
      })
  const program = dress(new Command('sashtally'))
    .description('One register for a house full of home-made window contacts.')
    .version(version(), '--version', 'print its version')
  const groups = new Map<string, Command>()
  for (const spec of specs) {
    const [first = '', second] = spec.name.split(' ')
    let parent = program
    if (second) {
      const parts = specs.map(({ name }) => name.split(' ')).filter(([group, part]) => group === first && part)
      parent =
        groups.get(first) ??
        dress(program.command(first))
          .description(`One of: ${parts.map(([, part]) => part).join(', ')}.`)
          .helpGroup(headingOf(spec))
      groups.set(first, parent)
    }
    const command = dress(parent.command(second ?? first)).description(spec.summary)
    if (!second) command.helpGroup(headingOf(spec))
    if (spec.args) command.arguments(spec.args)
    for (const option of spec.options) {
      const made = new Option(option.flags, option.text)
      if (option.choices) made.choices([...option.choices])
      if (option.fallback !== undefined) made.default(option.fallback)
      if (option.isList) made.argParser((value: string, before: string[] = []) => [...before, value])
      command.addOption(made)
    }
    if (spec.examples.length)
      command.addHelpText('after', `\nExamples:\n${spec.examples.map(e => `  ${e}`).join('\n')}`)
    command.action((...all: unknown[]) => {
      const args = all.slice(0, -2) as (string | undefined)[]
      onRun(spec, { args, options: all.at(-2) as Given['options'] })
    })
  }
  return program
}

/**
 * Runs one command line.
 * @param argv - the words after the program's name
 * @returns exit code: 0 fine, 1 the input has problems, 2 wrong use, 3 the world failed
 */
export async function cli(argv: readonly string[], world: World): Promise<Exit> {
  let asked: { spec: CommandSpec; given: Given } | undefined
  const program = programOf(COMMANDS, world, (spec, given) => {
    asked = { spec, given }
  })
  try {
    if (argv.length === 0) {
      world.stderr.write(program.helpInformation())
      return EXIT.usage
    }
    program.parse([...argv], { from: 'user' })
    if (!asked) return EXIT.fine
    return await asked.spec.run(asked.given, world)
  } catch (error) {
    if (error instanceof Stop) {
      if (error.message) world.stderr.write(`sashtally: ${error.message}\n`)
      return error.exit
    }
    if (error instanceof CommanderError) return error.exitCode === 0 ? EXIT.fine : EXIT.usage
    world.stderr.write(
      `sashtally: this should not happen, please report it: ${error instanceof Error ? error.stack : error}\n`,
    )
    return EXIT.world
  }
}
