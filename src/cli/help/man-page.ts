import type { CommandGroup, Definition } from '../program/command.ts'
import { argumentOf, flagsOf, helpOf } from '../program/option.ts'
import { EXIT_MEANINGS } from '../world.ts'
import { JSON_NOTE } from './notes.ts'

/**
 * The page for man(1), section 1, from the table that the help comes from.
 * @see groff_man(7) for the macros
 */
export function manPageOf(groups: readonly CommandGroup[], version: string): string {
  const lines = [
    `.TH SASHTALLY 1 "" ${quoted(`Sashtally ${version}`)} "User commands"`,
    '.SH NAME',
    'sashtally \\- register, definitions, tally and forecasts for home\\-made window contacts',
    '.SH SYNOPSIS',
    '.B sashtally',
    '.I command',
    '[\\fIarguments\\fR] [\\fIoptions\\fR]',
    '.SH DESCRIPTION',
    roff('A <file> is a path, or - for standard input. Nothing here is a burglar alarm or a fire alarm.'),
    '.PP',
    roff(JSON_NOTE),
    ...groups.flatMap(({ heading, commands }) => [
      `.SH ${quoted(heading.toUpperCase())}`,
      ...commands.flatMap(commandLines),
    ]),
    '.SH EXIT STATUS',
    ...Object.entries(EXIT_MEANINGS).flatMap(([code, meaning]) => ['.TP', `.B ${code}`, roff(meaning)]),
    '.SH ENVIRONMENT',
    ...[
      ['SASHTALLY_USER', 'The account at the broker.'],
      ['SASHTALLY_PASSWORD_FILE', 'The file with its password; without it a terminal is asked.'],
    ].flatMap(([name = '', says = '']) => ['.TP', `.B ${roff(name)}`, roff(says)]),
  ]
  return `${lines.join('\n')}\n`
}

function commandLines({ name, args, summary, options, examples }: Definition): readonly string[] {
  const call = ['sashtally', name, ...Object.entries(args).map(([arg, said]) => argumentOf(arg, said))].join(' ')
  return [
    `.SS ${quoted(call)}`,
    roff(summary),
    ...Object.entries(options).flatMap(([option, said]) => [
      '.TP',
      `.B ${quoted(flagsOf(option, said))}`,
      roff(helpOf(said)),
    ]),
    ...(examples.length > 0 ? ['.PP', '.EX', ...examples.map(roff), '.EE'] : []),
  ]
}

/** Text as roff reads it: nothing in it is a request, an escape or a hyphen that breaks. */
const roff = (text: string): string =>
  text
    .replaceAll('`', '')
    .replaceAll('\\', '\\(rs')
    .replaceAll('-', '\\-')
    .replaceAll("'", '\\(aq')
    .replaceAll('’', '\\(cq')
    .replaceAll('…', '\\&...')
    .replace(/^\./, '\\&.')

const quoted = (text: string): string => `"${roff(text).replaceAll('"', '\\(dq')}"`
