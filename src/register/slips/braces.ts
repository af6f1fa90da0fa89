import { shown, tame } from '../../text/problems.ts'
import { endOf, type Guess, isContent, type Lines, put } from './guess.ts'
import { KEY } from './keys.ts'

const WORD = '[A-Za-z][\\w-]*'
const contents = (lines: Lines, near: Iterable<number>): (readonly [at: number, line: string])[] =>
  [...near].flatMap(at => (isContent(lines[at]) ? [[at, lines[at]] as const] : []))

/** A line that may stand between braces or brackets. */
const inBraces = (lines: Lines, at: number): boolean => /[{}[\]]/.test(`${lines[at - 1] ?? ''}${lines[at]}`)

/** No comma between two keys in braces, also at the end of a line that goes on. */
export function* commaGuesses(lines: Lines, near: readonly number[]): Generator<Guess> {
  for (const key of [KEY, WORD]) {
    for (const [at, line] of contents(lines, near)) {
      if (!inBraces(lines, at)) continue
      const gaps = new RegExp(`(?<=[^\\s,:{[-])\\s+(?=(${key})\\s*:(?:\\s|$))`, 'g')
      for (const { index, 1: name } of line.matchAll(gaps)) {
        if (line.slice(0, index).trim() !== '') yield comma(line, at, index, name!)
      }
      const end = endOf(line)
      const next = lines.slice(at + 1, at + 4).find(isContent)
      const name = new RegExp(`^\\s*(${key})\\s*:`).exec(next ?? '')?.[1]
      if (name !== undefined && !/[,{[:]$/.test(line.slice(0, end))) yield comma(line, at, end, name)
    }
  }
}

const comma = (line: string, line0: number, at: number, name: string): Guess => ({
  line: line0,
  column: at,
  length: 1,
  mended: put(line, at, ','),
  code: 'comma',
  message: `In braces a comma stands between two keys; none stands before ${name}: add it here`,
})

/** No colon behind a key, or no blank behind its colon. */
export function* colonGuesses(lines: Lines, near: readonly number[]): Generator<Guess> {
  for (const key of [KEY, WORD]) {
    for (const [at, line] of contents(lines, near)) {
      const bare = new RegExp(`(?<=^\\s*(?:-\\s+)?|[{,]\\s*)(${key})(?=\\s+[^\\s:,}#]|\\s*$)`, 'g')
      for (const { index, 1: name = '' } of line.matchAll(bare)) {
        yield colon(line, at, index, name, ':', `A key is followed by a colon; none stands behind ${name}: add it`)
      }
      const tight = new RegExp(`(?<=^\\s*(?:-\\s+)?|[{,]\\s*)(${key}:)(?=[^\\s])`, 'g')
      for (const { index, 1: name = '' } of line.matchAll(tight)) {
        yield colon(
          line,
          at,
          index,
          name,
          ' ',
          `A blank stands behind the colon of a key; none stands behind ${name} here: add it`,
        )
      }
    }
  }
}

const colon = (line: string, at: number, index: number, name: string, what: string, message: string): Guess => ({
  line: at,
  column: index,
  length: name.length,
  mended: put(line, index + name.length, what),
  code: 'colon',
  message,
})

/** A value that wants quotes: YAML reads its colon, comma or sign. */
export function* valueGuesses(lines: Lines, near: readonly number[]): Generator<Guess> {
  for (const [at, line] of contents(lines, near)) {
    for (const { index, 0: lead } of line.matchAll(new RegExp(`${WORD}:\\s+(?=[^\\s'"])`, 'g'))) {
      const start = index + lead.length
      const rest = line.slice(start)
      const ends = [
        ...[...rest.matchAll(new RegExp(`\\s*,\\s*${KEY}\\s*:`, 'g'))].map(({ index }) => index),
        ...[...rest.matchAll(/\s*\}/g)].map(({ index }) => index),
        rest.trimEnd().length,
      ]
      for (const end of new Set(ends)) {
        const value = rest.slice(0, end)
        const why = reasonFor(value)
        if (why === undefined || HOLDS_A_KEY.test(value)) continue
        const quote = value.includes("'") ? '"' : "'"
        yield {
          line: at,
          column: start,
          length: end,
          mended: line.slice(0, start) + quote + value + quote + rest.slice(end),
          code: 'unquoted',
          message: `${why}; it stands in ${shown(value)} without quotes: write ${tame(quote + value + quote)}`,
        }
      }
    }
  }
}

/** What would be swallowed with a comma: the next key, perhaps mistyped. */
const HOLDS_A_KEY = /[,{]\s*[\w-]+\s*:(?:\s|$)/

function reasonFor(value: string): string | undefined {
  if (/:(?:\s|$)/.test(value)) return 'A colon with a blank behind it ends a key'
  if (/\s#/.test(value)) return 'A # with a blank before it begins a comment'
  if (/^[&*!|>%@`]/.test(value)) return `${value[0]} at the beginning of a value means something to YAML`
  if (/[,[\]{}]/.test(value)) return 'Commas, braces and brackets part what stands in braces'
  return undefined
}

/** No comma between two items in brackets. */
export function* listGuesses(lines: Lines, near: Iterable<number>): Generator<Guess> {
  for (const [at, line] of contents(lines, near)) {
    for (const { index, 1: inside = '' } of line.matchAll(/\[([^\][]*)\]/g)) {
      for (const gap of inside.matchAll(/(?<=[^\s,])\s+(?=[^\s,])/g)) {
        const place = index + 1 + gap.index
        yield {
          line: at,
          column: place,
          length: 1,
          mended: put(line, place, ','),
          code: 'comma',
          message: 'In brackets a comma stands between two items; none stands here: add it',
        }
      }
    }
  }
}

const CLOSES = { '}': 'brace', ']': 'bracket' } as const

/** A brace or bracket that is never closed, or never opened. */
export function* braceGuesses(lines: Lines, near: readonly number[]): Generator<Guess> {
  for (const [at, line] of contents(lines, near)) {
    if (!inBraces(lines, at)) continue
    const end = endOf(line)
    for (const [close, name] of Object.entries(CLOSES)) {
      const ends = [end, ...[...line.matchAll(new RegExp(`\\s*,\\s*${KEY}\\s*:`, 'g'))].map(({ index }) => index)]
      for (const place of ends) {
        yield {
          line: at,
          column: place,
          length: 1,
          mended: put(line, place, close),
          code: 'brace',
          message: `A ${name} that is opened is closed; one is not: put ${close} here`,
        }
      }
    }
    for (const { index, 0: lead } of line.matchAll(/(?:^\s*-|\w:)\s+(?=\w)/g)) {
      const place = index + lead.length
      yield {
        line: at,
        column: place,
        length: 1,
        mended: put(line, place, '{ '),
        code: 'brace',
        message: 'A brace that is closed was opened; one was not: put { here',
      }
    }
  }
}
