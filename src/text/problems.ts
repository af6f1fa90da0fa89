import { clamp } from './clamp.ts'
import { maskedLineOf, withoutUsers } from './masked.ts'
import type { Problem } from './problem.ts'
import { charactersOf, widthOf } from './width.ts'

/** Where lines begin and end in a text; a byte-order mark at its head is no part of line 1. */
export class Lines {
  readonly #text: string
  readonly #starts = [0]

  constructor(text: string) {
    this.#text = text
    for (let at = text.indexOf('\n'); at >= 0; at = text.indexOf('\n', at + 1)) this.#starts.push(at + 1)
  }

  /** Line and column of an offset, both from 1. */
  at(offset: number): { line: number; column: number } {
    const place = clamp(offset, 0, this.#text.length)
    let [low, high] = [0, this.#starts.length - 1]
    while (low < high) {
      const middle = (low + high + 1) >> 1
      if ((this.#starts[middle] ?? 0) <= place) low = middle
      else high = middle - 1
    }
    return { line: low + 1, column: place - (this.#starts[low] ?? 0) + 1 }
  }

  /** Offset just past the last character of the line that holds `offset`, its line end left out. */
  endOfLine(offset: number): number {
    return endFrom(this.#text, offset)
  }
}

/** The text without a byte-order mark; every offset and column is counted in this. */
export const withoutMark = (text: string): string => (text.startsWith('\uFEFF') ? text.slice(1) : text)

/** Text from a file made fit for a sentence: quoted, control characters escaped, cut at 40 characters. */
export function shown(value: unknown): string {
  if (Array.isArray(value)) return 'a list'
  if (value !== null && typeof value === 'object') return 'a map'
  if (typeof value !== 'string') return String(value)
  const cut = [...value.slice(0, 200)]
  return `"${cut.length > 40 ? `${tame(cut.slice(0, 40).join(''))}…` : tame(cut.join(''))}"`
}

// Control characters could steer a terminal, and bidirectional ones could turn a line around.
const UNTAMED = /[\p{Cc}\p{Cs}\u061C\u200E\u200F\u2028-\u202E\u2066-\u2069\uFEFF]/gu
/** Text from a file, safe to print: what would steer a terminal or turn a line around is escaped. */
export const tame = (text: string): string =>
  text.replace(UNTAMED, c => `\\u${c.charCodeAt(0).toString(16).toUpperCase().padStart(4, '0')}`)

const WIDEST = 110
/**
 * One problem as a person reads it: place and sentence, the source line, a caret line. Users, passwords and the like
 * are starred out: what is printed may land in a log.
 * Tabs stay tabs, wide characters get two columns, a long line is shown in part.
 * @param fileName - as the person wrote it
 */
export function formatProblem(problem: Problem, text: string, fileName: string): string {
  const { line, column, length, code, severity, message } = problem
  const said = tame(withoutUsers(message))
  const sentence = severity === 'warning' ? `warning: ${said}` : said
  const head = `${tame(fileName)}:${line}:${column}  ${sentence} [${code}]`
  const source = maskedLineOf(linesTo(withoutMark(text), line), line - 1)
  if (source.trim() === '') return head
  const from = column - 1
  const start = Math.max(0, Math.min(from - 50, source.length - WIDEST))
  const end = Math.min(source.length, start + WIDEST)
  const before = part(source, start, from)
  const marked = part(source, from, Math.min(from + length, end))
  const after = part(source, Math.min(from + length, end), end)
  const [lead, trail] = [start > 0 ? '…' : '', end < source.length ? '…' : '']
  const gutter = `${line} | `
  const under = `${' '.repeat(gutter.length - 2)}| `
  return [
    head,
    `${gutter}${lead}${before}${marked}${after}${trail}`,
    under + ' '.repeat(lead.length) + blank(before) + '^'.repeat(Math.max(1, widthOf(marked))),
  ].join('\n')
}

function endFrom(text: string, start: number): number {
  const feed = text.indexOf('\n', start)
  const end = feed < 0 ? text.length : feed
  return text[end - 1] === '\r' && end > start ? end - 1 : end
}

/** Lines up to and with this one. */
const linesTo = (text: string, line: number): string[] =>
  text.split('\n', line).map(each => (each.endsWith('\r') ? each.slice(0, -1) : each))

const part = (source: string, from: number, to: number): string =>
  source.slice(from, Math.max(from, to)).replace(UNTAMED, c => (c === '\t' ? c : '\uFFFD'))

const blank = (text: string): string =>
  [...charactersOf(text)].map(([character, columns]) => (character === '\t' ? '\t' : ' '.repeat(columns))).join('')
