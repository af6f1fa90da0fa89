import type { CommandGroup, Definition, Given } from '../program/command.ts'
import { argumentOf, flagsOf, helpOf, STDIN } from '../program/option.ts'
import { version } from '../version.ts'
import { EXIT, EXIT_MEANINGS, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { manPageOf } from './man-page.ts'
import { JSON_NOTE } from './notes.ts'

export async function run(
  { options: { man } }: Given<typeof commands.manual>,
  world: World,
  groups: readonly CommandGroup[],
): Promise<Exit> {
  world.stdout.write(man ? manPageOf(groups, version()) : manualOf(groups))
  return EXIT.fine
}

const INPUT = `A \`<file>\` is a path, or \`${STDIN}\` for standard input.`

const EXITS = [
  '| exit code | means |',
  '|---|---|',
  ...Object.entries(EXIT_MEANINGS).map(([code, meaning]) => `| ${code} | ${meaning} |`),
].join('\n')

/** The command page of the README, from the table that the help comes from. */
export const manualOf = (groups: readonly CommandGroup[]): string =>
  `${[INPUT, JSON_NOTE, EXITS, ...groups.flatMap(({ heading, commands }) => [`### ${heading}`, ...commands.map(commandText)])].join('\n\n')}\n`

function commandText({ name, args, summary, options, examples }: Definition): string {
  const call = ['sashtally', name, ...Object.entries(args).map(([arg, said]) => argumentOf(arg, said))].join(' ')
  const lines = [`**\`${call}\`** ${summary}`]
  const all = Object.entries(options)
  if (all.length) lines.push('', ...all.map(([option, said]) => `- \`${flagsOf(option, said)}\`: ${helpOf(said)}`))
  if (examples.length) lines.push('', '```sh', ...examples, '```')
  return lines.join('\n')
}
