import { longOf } from '../../src/cli/program/option.ts'

/** Words of options: `{ acceptDays: '30', json: true }` is `--accept-days 30 --json`. */
export const wordsOfOptions = (options: Readonly<Record<string, string | boolean>>): string[] =>
  Object.entries(options).flatMap(([name, value]) => (value === true ? [longOf(name)] : [longOf(name), String(value)]))

/** Words of a shell line: blanks part them, single quotes hold them together. */
export const wordsOf = (line: string): string[] =>
  [...line.matchAll(/'([^']*)'|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain!)
