import { type CommandGroup, GROUPS } from '../commands.ts'
import { type CommandSpec, EXIT, type OptionSpec } from '../world.ts'

export const manualCommand: CommandSpec = {
  name: 'manual',
  args: '',
  summary: 'Print the page of all commands as Markdown.',
  options: [],
  examples: ['sashtally manual'],
  async run(_given, world) {
    world.stdout.write(manualOf(GROUPS))
    return EXIT.fine
  },
}

/** The command page of the README, from the table that the help comes from. */
export const manualOf = (groups: readonly CommandGroup[]): string =>
  `${groups.flatMap(({ heading, commands }) => [`### ${heading}`, ...commands.map(commandText)]).join('\n\n')}\n`

function commandText({ name, args, summary, options, examples }: CommandSpec): string {
  const lines = [`**\`sashtally ${name}${args ? ` ${args}` : ''}\`** ${summary}`]
  if (options.length) lines.push('', ...options.map(optionText))
  if (examples.length) lines.push('', '```sh', ...examples, '```')
  return lines.join('\n')
}

function optionText({ flags, text, choices, fallback }: OptionSpec): string {
  const more = [
    choices ? `one of ${choices.join(', ')}` : '',
    fallback === undefined ? '' : `default ${fallback}`,
  ].filter(Boolean)
  return `- \`${flags}\`: ${text}${more.length ? ` (${more.join('; ')})` : ''}`
}
