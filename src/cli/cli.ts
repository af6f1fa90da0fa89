import { CommanderError } from 'commander'
import { tame } from '../text/problems.ts'
import { COMMANDS, GROUPS } from './commands.ts'
import type { Command, Typed } from './program/command.ts'
import { parserOf } from './program/parser.ts'
import { EXIT, type Exit, Stop, type World } from './world.ts'

/**
 * Runs one command line.
 * @param argv - the words after the program's name
 * @returns exit code: 0 fine, 1 the input has problems, 2 wrong use, 3 the world failed
 */
export async function cli(argv: readonly string[], world: World): Promise<Exit> {
  let asked: { command: Command; typed: Typed } | undefined
  const parser = parserOf(GROUPS, world, (command, typed) => {
    asked = { command, typed }
  })
  try {
    if (argv.length === 0) {
      world.stderr.write(parser.helpInformation())
      return EXIT.usage
    }
    parser.parse(asHelp(argv), { from: 'user' })
    if (!asked) return EXIT.fine
    return await asked.command.run(asked.typed, world, GROUPS)
  } catch (error) {
    if (error instanceof Stop) {
      // It may name a file, or quote one; the line breaks in it are its own.
      if (error.message) world.stderr.write(`sashtally: ${error.message.split('\n').map(tame).join('\n')}\n`)
      return error.exit
    }
    if (error instanceof CommanderError) return error.exitCode === 0 ? EXIT.fine : EXIT.usage
    world.stderr.write(
      `sashtally: this should not happen, please report it: ${error instanceof Error ? error.stack : error}\n`,
    )
    return EXIT.world
  }
}

/** `help prove` is `prove --help`; a command that there is not is told as one. */
function asHelp([first, ...rest]: readonly string[]): string[] {
  if (first !== 'help') return first === undefined ? [] : [first, ...rest]
  const isKnown = COMMANDS.some(({ name }) => rest[0] === undefined || name.split(' ')[0] === rest[0])
  return isKnown ? [...rest, '--help'] : rest
}
