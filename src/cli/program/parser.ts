import { Command as Parser, Option as ParserOption } from 'commander'
import { version } from '../version.ts'
import type { World } from '../world.ts'
import { type Command, type CommandGroup, closingLines, type Typed } from './command.ts'
import { argumentOf, flagsOf, helpOf, STDIN } from './option.ts'

const INPUT = `a path, or ${STDIN} for standard input`

/** Builds the parser from the command table; `onRun` is called with the command that was asked for. */
export function parserOf(
  groups: readonly CommandGroup[],
  world: World,
  onRun: (command: Command, typed: Typed) => void,
): Parser {
  const dress = (parser: Parser): Parser =>
    parser
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
  const program = dress(new Parser('sashtally'))
    .description('One register for a house full of home-made window contacts.')
    .version(version(), '--version', 'print its version')
    .addHelpText('after', '\n`sashtally help <command>` says how to use one of them.')
  const all = groups.flatMap(({ heading, commands }) => commands.map(command => ({ heading: `${heading}:`, command })))
  const parents = new Map<string, Parser>()
  for (const { heading, command } of all) {
    const [first = '', second] = command.name.split(' ')
    let parent = program
    if (second) {
      const parts = all.map(each => each.command.name.split(' ')).filter(([group, part]) => group === first && part)
      parent =
        parents.get(first) ??
        dress(program.command(first))
          .description(`One of: ${parts.map(([, part]) => part).join(', ')}.`)
          .helpGroup(heading)
      parents.set(first, parent)
    }
    const parser = dress(parent.command(second ?? first)).description(command.summary)
    if (!second) parser.helpGroup(heading)
    for (const [name, argument] of Object.entries(command.args)) {
      parser.argument(argumentOf(name, argument), argument.isInput ? INPUT : undefined)
    }
    for (const [name, option] of Object.entries(command.options)) {
      const made = new ParserOption(flagsOf(name, option), helpOf(option))
      made.argParser((value: string, before: readonly string[] = []) => [...before, value])
      parser.addOption(made)
    }
    if (command.examples.length)
      parser.addHelpText('after', `\nExamples:\n${command.examples.map(example => `  ${example}`).join('\n')}`)
    const closing = closingLines(command)
    if (closing.length) parser.addHelpText('after', `\n${closing.join('\n')}`)
    parser.action(() => {
      const options = Object.entries(parser.opts<Record<string, true | readonly string[]>>())
      onRun(command, {
        args: parser.args,
        options: Object.fromEntries(options.map(([name, value]) => [name, value === true ? [''] : value])),
      })
    })
  }
  return program
}
