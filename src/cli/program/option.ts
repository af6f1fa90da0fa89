import type { Kind, Reading } from './kinds.ts'
import { path, text } from './kinds.ts'

/** A positional argument of a command; its key in the table is its name. */
export interface Argument<T = unknown> {
  readonly choices?: readonly string[] | undefined
  /** Words that it may be too, beside what a register or a folder holds. */
  readonly others?: readonly string[]
  /** It takes all that is left, at least one; only the last of a command can. */
  readonly isMany?: true
  /** It is a file to read, or `STDIN`. */
  readonly isInput?: true
  /** Holds where it is left out; only the last of a command can be. */
  readonly fallback?: string
  read(given: readonly string[]): Reading<T>
}

/** A missing one had to be given; `found` is what was typed. */
export type OptionReading<T> =
  | { readonly value: T }
  | { readonly wants: string; readonly found: string }
  | { readonly isMissing: true }

/** An option of a command; its key in the table, in kebab case, is its name: `acceptDays` is `--accept-days`. */
export interface Option<T = unknown> {
  readonly text: string
  /** One letter: `o` is `-o`. */
  readonly short?: string
  /** Stands for the value in the help, such as `file`; absent: the option takes no value. */
  readonly value?: string
  readonly choices?: readonly string[] | undefined
  /** Holds where the option is left out; as a person would write it. */
  readonly fallback?: string
  /** @param given - each value that was typed; one empty text where the option takes none */
  read(given: readonly string[]): OptionReading<T>
}

export type Arguments = Readonly<Record<string, Argument>>
export type Options = Readonly<Record<string, Option>>
/** What a command is given of its arguments or options. */
export type ValuesOf<Definitions extends Arguments | Options> = {
  readonly [Name in keyof Definitions]: Definitions[Name] extends Argument<infer T> | Option<infer T> ? T : never
}

type Flag = Pick<Option, 'text' | 'short'>
type Valued = Flag & { readonly value: string }

/** One value, which has to be given. */
export function argument(): Argument<string>
export function argument<T>(kind: Kind<T>): Argument<T>
export function argument(kind: Kind<unknown> = text): Argument {
  return { choices: kind.choices, read: ([given = '']) => kind.read(given) }
}

/** One value, which may be left out. */
export const argumentOr = <T>(fallback: string, kind: Kind<T>): Argument<T> => ({ ...argument(kind), fallback })

/** Stands for standard input where a command takes a file to read. */
export const STDIN = '-'

/** A file to read, or standard input. */
export const inputFile: Argument<string> = { ...argument(path), isInput: true }

/** As `inputFile`, where it may be left out: undefined. */
export const optionalFile: Argument<string | undefined> = {
  isInput: true,
  fallback: '',
  read: ([given = '']) => ({ value: given === '' ? undefined : given }),
}

/** One value or more; the last argument of a command. */
export const manyArguments = <T>(kind: Kind<T>): Argument<readonly T[]> => ({
  choices: kind.choices,
  isMany: true,
  read: given => {
    const values: T[] = []
    for (const each of given) {
      const reading = kind.read(each)
      if ('wants' in reading) return reading
      values.push(reading.value)
    }
    return { value: values }
  },
})

/** `<mark>`, `<mark...>` where it takes all that is left, or `[page]` where it may be left out. */
export const argumentOf = (name: string, { isMany, fallback }: Argument): string =>
  fallback === undefined ? `<${name}${isMany ? '...' : ''}>` : `[${name}]`

/** True or false. */
export const flag = (says: Flag): Option<boolean> => ({ ...says, read: given => ({ value: given.length > 0 }) })

/** One value; of several the last holds. Undefined where the option is left out and has no fallback. */
export function option<T>(kind: Kind<T>, says: Valued & { readonly fallback: string }): Option<T>
export function option<T>(kind: Kind<T>, says: Valued): Option<T | undefined>
export function option<T>(kind: Kind<T>, says: Valued & { readonly fallback?: string }): Option<T | undefined> {
  return {
    ...says,
    choices: kind.choices,
    read: given => {
      const last = given.at(-1) ?? says.fallback
      return last === undefined ? { value: undefined } : found(last, kind.read(last))
    },
  }
}

/** One value that must be given. */
export const required = <T>(kind: Kind<T>, says: Valued): Option<T> => ({
  ...says,
  choices: kind.choices,
  read: given => {
    const last = given.at(-1)
    return last === undefined ? { isMissing: true } : found(last, kind.read(last))
  },
})

const found = <T>(given: string, reading: Reading<T>): OptionReading<T> =>
  'value' in reading ? reading : { ...reading, found: given }

/** Values in their order, none where the option is left out; a `value` that ends in `...` takes several at once. */
export function list<T>(kind: Kind<T>, says: Valued): Option<readonly T[]> {
  return {
    ...says,
    choices: kind.choices,
    read: given => {
      const values: T[] = []
      for (const each of given) {
        const reading = kind.read(each)
        if ('wants' in reading) return found(each, reading)
        values.push(reading.value)
      }
      return { value: values }
    },
  }
}

/** `--accept-days` for `acceptDays`. */
export const longOf = (name: string): string => `--${name.replace(/[A-Z]/g, letter => `-${letter.toLowerCase()}`)}`

/** `-o, --out <file>`. */
export const flagsOf = (name: string, { short, value }: Option): string =>
  `${short === undefined ? '' : `-${short}, `}${longOf(name)}${value === undefined ? '' : ` <${value}>`}`

/** What an option does, the values that it takes, and what holds where it is left out. */
export function helpOf({ text: says, choices, fallback }: Option): string {
  const more = [
    ...(choices ? [`one of ${choices.join(', ')}`] : []),
    ...(fallback === undefined ? [] : [`default ${fallback}`]),
  ]
  return more.length ? `${says} (${more.join('; ')})` : says
}
