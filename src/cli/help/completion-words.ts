import type { Definition } from '../program/command.ts'
import { longOf } from '../program/option.ts'

/** What may stand at one place of a command line. */
export interface Offer {
  /** The command, `emit hub`. */
  readonly command: string
  /** Words that may stand there. */
  readonly words: readonly string[]
  /** The marks of the register that is the command's first argument may stand there too. */
  readonly hasMarks: boolean
}

/** What each argument of a command may be, with its place from 0; those of which nothing is known are left out. */
export function argumentOffers(
  commands: readonly Definition[],
): (Offer & { readonly place: number; readonly isLast: boolean })[] {
  return commands.flatMap(({ name, args }) =>
    Object.entries(args).flatMap(([argument, { choices = [], others = [], isMany }], place) => {
      const hasMarks = argument === 'mark'
      const words = [...others, ...choices].filter(word => !word.includes(' '))
      if (!hasMarks && words.length === 0) return []
      return [{ command: name, place, words, hasMarks, isLast: isMany === true }]
    }),
  )
}

/** What the value of each option may be, with the ways in which the option is written. */
export function optionOffers(commands: readonly Definition[]): (Offer & { readonly flags: readonly string[] })[] {
  return commands.flatMap(({ name, options }) =>
    Object.entries(options).flatMap(([option, { short, choices = [] }]) => {
      const hasMarks = option === 'mark'
      if (!hasMarks && choices.length === 0) return []
      const flags = [longOf(option), ...(short === undefined ? [] : [`-${short}`])]
      // A shell would part those that hold a blank.
      return [{ command: name, flags, words: choices.filter(choice => !choice.includes(' ')), hasMarks }]
    }),
  )
}

/** `emit hub --out`, for each option that takes a value: the word behind it is no argument. */
export const valuedOptions = (commands: readonly Definition[]): string[] =>
  commands.flatMap(({ name, options }) =>
    Object.entries(options).flatMap(([option, { short, value }]) =>
      value === undefined
        ? []
        : [longOf(option), ...(short === undefined ? [] : [`-${short}`])].map(flag => `${name} ${flag}`),
    ),
  )

/** Words that may follow what has been typed: '' for the first, `emit` for the second of a group. */
export function partsAfter(commands: readonly Definition[]): Map<string, string[]> {
  const next = new Map<string, string[]>()
  for (const { name } of commands) {
    const words = name.split(' ')
    for (const [index, word] of words.entries()) {
      const typed = words.slice(0, index).join(' ')
      const known = next.get(typed) ?? []
      if (!known.includes(word)) next.set(typed, [...known, word])
    }
  }
  return next
}

/** A text in the single quotes of a shell. */
export const single = (text: string): string => `'${text.replaceAll("'", "'\\''")}'`

/**
 * Prints the marks in a register, for sed: it need not be whole yet. Of a line the last `mark:` counts, quoted or not;
 * what stands behind a # does not.
 */
export const MARKS_BY_SED = `s/^[^#]*[{, "']mark["']\\{0,1\\}: *["']\\{0,1\\}\\([A-Za-z0-9-]\\{1,16\\}\\).*/\\1/p`
