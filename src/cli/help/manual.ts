import type { CommandGroup, Definition, Given } from '../program/command.ts'
import { argumentOf, flagsOf, helpOf, STDIN } from '../program/option.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'

export async function run(
  _given: Given<typeof commands.manual>,
  world: World,
  groups: readonly CommandGroup[],
): Promise<Exit> {
  world.stdout.write(manualOf(groups))
  return EXIT.fine
}

const INPUT = `A \`<file>\` is a path, or \`${STDIN}\` for standard input.`

/** The command page of the README, from the table that the help comes from. */
export const manualOf = (groups: readonly CommandGroup[]): string =>
  `${[INPUT, ...groups.flatMap(({ heading, commands }) => [`### ${heading}`, ...commands.map(commandText)])].join('\n\n')}\n`

function commandText({ name, args, summary, options, examples }: Definition): string {
  const call = ['sashtally', name, ...Object.entries(args).map(([arg, said]) => argumentOf(arg, said))].join(' ')
  const lines = [`**\`${call}\`** ${summary}`]
  const all = Object.entries(options)
  if (all.length) lines.push('', ...all.map(([option, said]) => `- \`${flagsOf(option, said)}\`: ${helpOf(said)}`))
  if (examples.length) lines.push('', '```sh', ...examples, '```')
  return lines.join('\n')
}
