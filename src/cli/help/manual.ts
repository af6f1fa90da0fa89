import { readFile } from 'node:fs/promises'
import { inPackage } from '../files/in-package.ts'
import { type CommandGroup, closingLines, type Definition, type Given } from '../program/command.ts'
import { argumentOf, flagsOf, helpOf, STDIN } from '../program/option.ts'
import { version } from '../version.ts'
import { EXIT, EXIT_MEANINGS, type Exit, type World } from '../world.ts'
import * as commands from './commands.ts'
import { manPageOf } from './man-page.ts'
import { JSON_NOTE } from './notes.ts'

export async function run(
  { args: { page }, options: { man, pages } }: Given<typeof commands.manual>,
  world: World,
  groups: readonly CommandGroup[],
): Promise<Exit> {
  if (man) world.stdout.write(manPageOf(groups, version()))
  else if (pages) world.stdout.write(await listOfPages(groups))
  else world.stdout.write(await pageOf(page, groups))
  return EXIT.fine
}

/** `src/manual` is published as it stands, so that links from README.md hold in a checkout and in the package, but that of the commands, which is made. */
const pageOf = async (page: Page, groups: readonly CommandGroup[]): Promise<string> =>
  page === 'commands' ? manualOf(groups) : readFile(inPackage(`src/manual/${page}.md`), 'utf8')

/** Each page with its title, the first line of its text. */
async function listOfPages(groups: readonly CommandGroup[]): Promise<string> {
  const titles = await Promise.all(
    commands.PAGES.map(async page => /^# (.*)$/m.exec(await pageOf(page, groups))?.[1] ?? ''),
  )
  const width = Math.max(...commands.PAGES.map(page => page.length))
  return commands.PAGES.map((page, index) => `${page.padEnd(width)}  ${titles[index]}\n`).join('')
}

type Page = (typeof commands.PAGES)[number]

const INPUT = `A \`<file>\` is a path, or \`${STDIN}\` for standard input.`

const EXITS = [
  '| exit code | means |',
  '|---|---|',
  ...Object.entries(EXIT_MEANINGS).map(([code, meaning]) => `| ${code} | ${meaning} |`),
].join('\n')

/** The page of commands, `src/manual/commands.md`, from the table that the help comes from. */
export const manualOf = (groups: readonly CommandGroup[]): string =>
  `${['# Commands', INPUT, JSON_NOTE, EXITS, ...groups.flatMap(({ heading, commands }) => [`## ${heading}`, ...commands.map(commandText)])].join('\n\n')}\n`

function commandText(definition: Definition): string {
  const { name, args, summary, options, examples } = definition
  const call = ['sashtally', name, ...Object.entries(args).map(([arg, said]) => argumentOf(arg, said))].join(' ')
  const lines = [`**\`${call}\`** ${summary}`]
  const all = Object.entries(options)
  if (all.length) lines.push('', ...all.map(([option, said]) => `- \`${flagsOf(option, said)}\`: ${helpOf(said)}`))
  if (examples.length) lines.push('', '```sh', ...examples, '```')
  const closing = closingLines(definition)
  if (closing.length) lines.push('', closing.join(' '))
  return lines.join('\n')
}
