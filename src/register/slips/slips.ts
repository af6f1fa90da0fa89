import type { Problem } from '../../text/problem.ts'
import { braceGuesses, colonGuesses, commaGuesses, listGuesses, valueGuesses } from './braces.ts'
import type { Guess, Lines } from './guess.ts'
import { indentGuesses, likelyIndents, oddIndents, tabGuesses } from './indents.ts'
import { quoteGuesses } from './quotes.ts'
import { contentBefore, thinned } from './window.ts'

/** Errors that a slip of the pen may be behind: of the YAML itself, and of what stands where. */
const OF_YAML = new Set(['yaml', 'tab', 'key', 'duplicate-key', 'several-documents', 'no-register'])
const OF_PLACE = new Set([
  'unknown-key',
  'missing',
  'empty',
  'map',
  'list',
  'words-missing',
  'no-power',
  'side',
  'text',
  'secret',
  'broker',
])
/** Slips that are named at once, texts that are tried for each kind of slip, and lines with errors that are looked at. */
const MOST_SLIPS = 3
const MOST_TRIES = 24
const MOST_PLACES = 3
/** Texts that are tried in all, and their characters: what is no slip must not cost a second. */
const MOST_TRIES_IN_ALL = 70

const MOST_CHARACTERS = 4_000_000
/** What cost a reader so much once is not read again and again. */
const OUT_OF_HAND = new Set(['too-many-aliases', 'too-many', 'too-long'])
const MOST_PROBLEMS = 1000

const isError = ({ severity }: Problem): boolean => severity === 'error'
const ofYaml = (problems: readonly Problem[]): number => problems.filter(({ code }) => OF_YAML.has(code)).length
/** What the whole register lacks is no matter of one place, and a part of it may lack more. */
const isOfHouse = ({ code, path }: Problem): boolean => code === 'missing' && path.lastIndexOf('/') <= 0
const keyOf = ({ code, line, path }: Problem): string => `${line} ${path} ${code}`

/**
 * Names the slips behind the problems of a register: a missing comma or colon, a quote, a brace, a tab, an indent. A slip
 * is named where mending it, and nothing else, leaves nothing wrong in its place; what followed from it is left out.
 * @param problems - of the text as it stands
 * @param attempt - the problems of another text
 * @returns the slips in place of what followed from them, and all other problems
 */
export function nameSlips(
  text: string,
  problems: readonly Problem[],
  attempt: (text: string) => readonly Problem[],
): readonly Problem[] {
  if (problems.length >= MOST_PROBLEMS || problems.some(({ code }) => OUT_OF_HAND.has(code))) return problems
  const most = Math.min(MOST_TRIES_IN_ALL, MOST_CHARACTERS / text.length)
  const lines = text.split('\n')
  const named: Problem[] = []
  let left = problems
  let tries = 0
  const tried = (text: string): readonly Problem[] => {
    tries++
    return attempt(text).filter(isError)
  }
  const isEnough = (): boolean => tries >= most
  while (!isEnough() && named.length < MOST_SLIPS) {
    const guess = likeliest(lines, left.filter(isError), tried, isEnough)
    if (!guess) break
    const before = lines[guess.line]!
    lines[guess.line] = guess.mended
    named.push(problemOf(guess, before))
    left = attempt(lines.join('\n')).map(problem => inUnmended(problem, guess, before))
  }
  return named.length > 0 ? [...named, ...left] : problems
}

function problemOf({ line, column, length, code, message }: Guess, text: string): Problem {
  const at = Math.min(column, Math.max(0, widthOf(text) - 1))
  return inLine({ code, severity: 'error', line: line + 1, column: at + 1, length, path: '', message }, text)
}

/** A place in the mended line as it is in the line that the person wrote. */
function inUnmended(problem: Problem, { line, column, mended }: Guess, text: string): Problem {
  if (problem.line !== line + 1) return problem
  const moved = problem.column > column + 1 ? mended.length - text.length : 0
  return inLine({ ...problem, column: Math.max(1, problem.column - moved) }, text)
}

const widthOf = (text: string): number => text.replace(/\r$/, '').length

/** With a mark that ends in its line. */
const inLine = (problem: Problem, text: string): Problem => {
  const column = Math.min(problem.column, widthOf(text) + 1)
  return { ...problem, column, length: Math.max(1, Math.min(problem.length, widthOf(text) - column + 1)) }
}

function likeliest(
  all: Lines,
  errors: readonly Problem[],
  attempt: (text: string) => readonly Problem[],
  isEnough: () => boolean,
): Guess | undefined {
  if (!errors.some(({ code }) => OF_YAML.has(code) || OF_PLACE.has(code))) return undefined
  const places = [...new Set(errors.map(({ line }) => line - 1))].sort((a, b) => a - b).slice(0, MOST_PLACES)
  const near = [...new Set(places.flatMap(place => [place, ...contentBefore(all, place, 2), place + 1]))]
  const lines = thinned(all, near)
  const errorsIn = (some: string): readonly Problem[] => attempt(some).filter(problem => !isOfHouse(problem))
  const before = errorsIn(lines.join('\n'))
  const known = new Set(before.map(keyOf))
  let best: { guess: Guess; yaml: number; count: number } | undefined
  for (const guess of guessesFor(lines, near)) {
    if (isEnough()) break
    const after = errorsIn(withMended(lines, guess))
    const [yaml, count] = [ofYaml(after), after.length]
    const isBetter =
      ofYaml(before) > 0 ? yaml < ofYaml(before) : count < before.length && after.every(one => known.has(keyOf(one)))
    const isClean = !after.some(({ line }) => line - 1 >= guess.line && line - 1 <= guess.line + 1)
    if (!isBetter || !isClean) continue
    if (best && (yaml > best.yaml || (yaml === best.yaml && count >= best.count))) continue
    if (!isLess(attempt(withMended(all, guess)), errors)) continue
    best = { guess, yaml, count }
    if (count === 0) break
  }
  return best?.guess ?? listSlip(all, errors, attempt)
}

/** Whether less is wrong than before: more may come to light when the YAML can be read. */
const isLess = (after: readonly Problem[], before: readonly Problem[]): boolean =>
  ofYaml(after) < ofYaml(before) || (ofYaml(after) === ofYaml(before) && after.length < before.length)

const withMended = (lines: Lines, { line, mended }: Guess): string =>
  lines.map((text, at) => (at === line ? mended : text)).join('\n')

/** A list of names without a comma is told at every opening that uses one of them, far from the list itself. */
function listSlip(
  lines: Lines,
  errors: readonly Problem[],
  attempt: (text: string) => readonly Problem[],
): Guess | undefined {
  if (!errors.some(({ code }) => code === 'side')) return undefined
  const guesses = [...listGuesses(lines, lines.keys())].slice(0, MOST_TRIES)
  return guesses.find(guess => !attempt(withMended(lines, guess)).some(({ code }) => code === 'side'))
}

/** The likelier slips first: of two that mend the same, the first is named. */
const KINDS = [
  tabGuesses,
  oddIndents,
  likelyIndents,
  quoteGuesses,
  commaGuesses,
  colonGuesses,
  valueGuesses,
  listGuesses,
  braceGuesses,
  indentGuesses,
]

function* guessesFor(lines: Lines, near: readonly number[]): Generator<Guess> {
  for (const guesses of KINDS) {
    let count = 0
    for (const guess of guesses(lines, near)) {
      if (++count > MOST_TRIES) break
      yield guess
    }
  }
}
