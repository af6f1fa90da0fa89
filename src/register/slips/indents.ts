import { houseShape } from '../schema.ts'
import { type Guess, indentOf, isContent, type Lines } from './guess.ts'
import { contentBefore, sectionOf } from './window.ts'

const spaces = (count: number): string => `${count} ${count === 1 ? 'space' : 'spaces'}`

/** Indents that other lines of the part have, and one step deeper. */
function indentsIn(lines: Lines, from: number, to: number): Map<number, number> {
  const counts = new Map<number, number>()
  for (let at = from; at < to; at++) {
    const line = lines[at]
    if (isContent(line) && !/^\s*\t/.test(line)) counts.set(indentOf(line), (counts.get(indentOf(line)) ?? 0) + 1)
  }
  return counts
}

/** A tab in front of a line. */
export function* tabGuesses(lines: Lines, near: readonly number[]): Generator<Guess> {
  for (const at of near) {
    const line = lines[at]
    const tab = line === undefined ? -1 : (/^ *\t/.exec(line)?.[0].length ?? 0) - 1
    if (line === undefined || tab < 0) continue
    const above = contentBefore(lines, at, 1).map(place => indentOf(lines[place]!))
    for (const indent of new Set([...above, ...indentsIn(lines, ...sectionOf(lines, at)).keys()])) {
      yield {
        line: at,
        column: tab,
        length: 1,
        mended: ' '.repeat(indent) + line.trimStart(),
        code: 'tab',
        message: `YAML indents with spaces only; a tab stands here: write ${spaces(indent)} before the line`,
      }
    }
  }
}

/** A line that stands as no other beside it. */
export const oddIndents = (lines: Lines, near: readonly number[]): Generator<Guess> => moved(lines, near, true)

/** A line that stands further left or right than those that it belongs to. */
export const indentGuesses = (lines: Lines, near: readonly number[]): Generator<Guess> => moved(lines, near, false)

/** A key of the house stands at the left edge where it belongs. */
const isOfHouse = (line: string): boolean => Object.hasOwn(houseShape, /^(\w+):/.exec(line)?.[1] ?? '')

/** The first of them. */
export function* likelyIndents(lines: Lines, near: readonly number[]): Generator<Guess> {
  let count = 0
  for (const guess of indentGuesses(lines, near)) {
    if (++count > 8) return
    yield guess
  }
}

function* moved(lines: Lines, near: readonly number[], isOdd: boolean): Generator<Guess> {
  const sections = new Map(near.map(at => sectionOf(lines, at)).map(section => [section[0], section]))
  const found: { at: number; indent: number; rank: number }[] = []
  for (const [from, to] of sections.values()) {
    const counts = indentsIn(lines, from, to)
    for (let at = from; at < to; at++) {
      const line = lines[at]
      if (!isContent(line) || isOfHouse(line)) continue
      const now = indentOf(line)
      const [above = from] = contentBefore(lines, at, 1)
      if ((counts.get(now) === 1) !== isOdd) continue
      for (const indent of new Set([...counts.keys(), 0, 2, 4])) {
        if (indent === now) continue
        const distance = Math.min(...near.map(place => Math.abs(place - at)))
        found.push({
          at,
          indent,
          rank: Math.abs(indent - now) + 2 * distance - (indent === indentOf(lines[above]!) ? 3 : 0),
        })
      }
    }
  }
  found.sort((a, b) => a.rank - b.rank)
  for (const { at, indent } of found) {
    const line = lines[at]!
    yield {
      line: at,
      column: Math.max(0, indentOf(line)),
      length: 1,
      mended: ' '.repeat(indent) + line.trimStart(),
      code: 'indent',
      message: `The spaces before a line say what it belongs to; this line has ${spaces(indentOf(line))} and fits with ${indent}: move it`,
    }
  }
}
