import { shown } from '../../text/problems.ts'
import { endOf, type Guess, type Lines, put } from './guess.ts'
import { KEY } from './keys.ts'

/** Lines above a place at which an open quote may begin. */
const LINES_ABOVE = 12

/** A quote that is never closed or never opened, and an apostrophe in single quotes. */
export function* quoteGuesses(lines: Lines, near: readonly number[]): Generator<Guess> {
  const all = new Set(near)
  const [first = 0] = [...near].sort((a, b) => a - b)
  for (let at = first; at >= Math.max(0, first - LINES_ABOVE); at--) all.add(at)
  for (const at of all) {
    const line = lines[at] ?? ''
    for (const quote of ["'", '"']) {
      const places = [...line.slice(0, endOf(line) || line.length)].flatMap((c, index) => (c === quote ? [index] : []))
      if (places.length % 2 === 0) continue
      for (const place of places) {
        if (/(?:^|[:,[{-]\s*)$/.test(line.slice(0, place))) yield* unclosed(line, at, place, quote)
        else if (/^\s*(?:[,}\]]|$)/.test(line.slice(place + 1, endOf(line)))) yield* unopened(line, at, place, quote)
        else if (quote === "'") yield apostrophe(line, at, place)
      }
    }
  }
}

function* unclosed(line: string, at: number, place: number, quote: string): Generator<Guess> {
  const rest = line.slice(place + 1)
  const before = [
    ...[...rest.matchAll(new RegExp(`\\s*,\\s*${KEY}\\s*:`, 'g'))].map(({ index }) => index),
    ...[...rest.matchAll(/\s*[,}\]]/g)].map(({ index }) => index),
    endOf(line) - place - 1,
    rest.length,
  ]
  for (const end of new Set(before)) {
    if (end < 1) continue
    yield {
      line: at,
      column: place,
      length: end + 1,
      mended: put(line, place + 1 + end, quote),
      code: 'quote',
      message: `A quote that is opened is closed on the same line; this one is not: put ${quote} after ${shown(rest.slice(0, end))}`,
    }
  }
}

function* unopened(line: string, at: number, place: number, quote: string): Generator<Guess> {
  const starts = [...line.slice(0, place).matchAll(/(?:[:,[{]|^\s*-)\s+(?=\S)/g)].map(
    ({ index, 0: lead }) => index + lead.length,
  )
  for (const start of starts.reverse()) {
    yield {
      line: at,
      column: start,
      length: place + 1 - start,
      mended: put(line, start, quote),
      code: 'quote',
      message: `A quote that is closed was opened on the same line; this one was not: put ${quote} before ${shown(line.slice(start, place))}`,
    }
  }
}

const apostrophe = (line: string, at: number, place: number): Guess => ({
  line: at,
  column: place,
  length: 1,
  mended: put(line, place, "'"),
  code: 'quote',
  message: "Inside single quotes an apostrophe is written twice; one alone stands here and ends the text: write ''",
})
