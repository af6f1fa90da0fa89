import { Composer, type Document, isMap, isSeq, Lexer, type Node, Parser } from 'yaml'
import { clamp } from './clamp.ts'
import { pointerOf } from './json-pointer.ts'
import type { Problem } from './problem.ts'
import { Lines, tame, withoutMark } from './problems.ts'
import { MOST_DEPTH, type Path, type Raw, RawReader } from './raw.ts'
import type { Steps } from './steps.ts'

/** Longest register text, in characters. */
const MOST_CHARACTERS = 2_000_000

/** YAML 1.2 whatever a directive says, and no tags: the same to every reader. */
const YAML_OPTIONS = { schema: 'core', resolveKnownTags: false, logLevel: 'silent', uniqueKeys: false } as const

// One wrong indent early on can make every later line wrong.
const MOST_YAML_ERRORS = 100

/** A register text after YAML: its value, what YAML found wrong, and the way back to line and column. */
export interface Tree {
  /** Undefined when the text cannot be read at all. */
  readonly value: Raw | undefined
  readonly problems: readonly Problem[]
  /** False after an error in the YAML itself: something may be missing that the person wrote. */
  readonly whole: boolean
  /** A problem at the key or the value that `path` leads to, or at the nearest thing above it. */
  problem(path: Path, at: 'key' | 'value', code: string, message: string, severity?: Problem['severity']): Problem
  /** The text that a person wrote for a value. */
  source(path: Path): string
  line(path: Path): number
}

type TextRange = readonly [from: number, to: number]

/** Reads YAML 1.2 text, in steps; never throws. */
export function* readTree(withMark: string): Steps<Tree> {
  const text = withoutMark(withMark)
  const lines = new Lines(text)
  const head = Math.max(0, text.search(/\S/))
  const problems: Problem[] = []
  let root: Node | null = null
  let whole = true

  const put = (span: TextRange, path: Path, code: string, message: string, severity: Problem['severity'] = 'error') => {
    const from = clamp(span[0], 0, text.length)
    const length = Math.max(1, Math.min(span[1], lines.endOfLine(from)) - from)
    return { code, severity, ...lines.at(from), length, path: pointerOf(path), message }
  }
  const lineOf = (node: unknown): number => lines.at(rangeOf(node)?.[0] ?? head).line
  const reader = new RawReader((node, path, code, message) => {
    problems.push(put(rangeOf(node) ?? [head, head], path, code, message))
  }, lineOf)

  function spanOf(path: Path, at: 'key' | 'value'): TextRange {
    let node: unknown = root
    let span: TextRange = [head, lines.endOfLine(head)]
    for (const [index, step] of path.entries()) {
      node = reader.aim(node)
      const pair = isMap(node) ? reader.pair(node, String(step)) : undefined
      if (pair) {
        const value = rangeOf(pair.value)
        span =
          index === path.length - 1 && at === 'value' && value && value[1] > value[0]
            ? value
            : (rangeOf(pair.key) ?? span)
        node = pair.value
      } else if (isSeq(node) && typeof step === 'number') {
        node = node.items[step]
        span = rangeOf(node) ?? span
      } else return span
    }
    return span
  }

  const tree = (value: Raw | undefined): Tree => ({
    value,
    problems,
    whole,
    problem: (path, at, code, message, severity) => put(spanOf(path, at), path, code, message, severity),
    source: path => text.slice(...spanOf(path, 'value')),
    line: path => lines.at(spanOf(path, 'value')[0]).line,
  })
  const stop = (offset: number, code: string, message: string): Tree => {
    problems.push(put([offset, offset + 1], [], code, message))
    return tree(undefined)
  }

  const unfit = textFault(text)
  if (unfit) return stop(...unfit)
  let documents: readonly Document[]
  try {
    documents = yield* documentsOf(text)
  } catch (error) {
    if (!(error instanceof RangeError)) throw error
    return stop(
      head,
      'too-deep',
      `A register nests at most ${MOST_DEPTH} deep; this text nests so deep that it cannot be read: look for brackets that are never closed`,
    )
  }
  const [first, second] = documents
  root = (first?.contents as Node | null | undefined) ?? null
  for (const [index, error] of (first?.errors ?? []).entries()) {
    whole = false
    if (index === MOST_YAML_ERRORS) {
      problems.push(
        put(error.pos, [], 'more', `Only the first ${index} errors of the YAML are listed: mend these and check again`),
      )
      break
    }
    problems.push(put(error.pos, [], ...yamlSentence(error.code, error.message)))
  }
  for (const { pos, message } of first?.warnings.slice(0, MOST_YAML_ERRORS) ?? []) {
    problems.push(
      put(pos, [], 'yaml-tag', `A register uses no YAML tags; ${lower(firstLine(message))}: leave it out`, 'warning'),
    )
  }
  if (second) {
    const from = second.range?.[0] ?? head
    problems.push(
      put(
        [from, lines.endOfLine(from)],
        [],
        'several-documents',
        'A register is one YAML document; a second one begins here: take the line --- out, or keep two files',
      ),
    )
  }
  const value = reader.read(root)
  whole &&= !reader.cut
  return tree(value)
}

/** Pieces of text that are read in one step. */
const STEP_LEXEMES = 500

function* documentsOf(text: string): Steps<readonly Document[]> {
  const [parser, composer] = [new Parser(), new Composer(YAML_OPTIONS)]
  const documents: Document[] = []
  let read = 0
  for (const lexeme of new Lexer().lex(text)) {
    for (const token of parser.next(lexeme)) documents.push(...composer.next(token))
    if (++read % STEP_LEXEMES === 0) yield
  }
  for (const token of parser.end()) documents.push(...composer.next(token))
  return [...documents, ...composer.end()]
}

function textFault(text: string): [number, string, string] | undefined {
  if (text.length > MOST_CHARACTERS) {
    return [
      0,
      'too-long',
      `A register has at most ${MOST_CHARACTERS} characters; this text has ${text.length}: check that it is the right file`,
    ]
  }
  const nul = text.indexOf('\0')
  if (nul >= 0) {
    return [
      nul,
      'not-text',
      'A register is text; the character U+0000 stands here: check that it is the right file, saved as UTF-8',
    ]
  }
  const half = text.search(/\p{Cs}/u)
  if (half >= 0) return [half, 'not-text', 'A register is text; half a character stands here: save the file as UTF-8']
  if (text.includes('\r') && !text.includes('\n')) {
    return [
      text.indexOf('\r'),
      'line-ends',
      'Lines end with LF or CRLF; this file has CR alone: save it with other line ends',
    ]
  }
  return undefined
}

function rangeOf(node: unknown): TextRange | undefined {
  const range = (node as Node | null | undefined)?.range
  return range ? [range[0], range[1]] : undefined
}

const firstLine = (message: string): string =>
  tame((message.split('\n', 1)[0] ?? '').replace(/[.:]$/, '').slice(0, 160))
const lower = (text: string): string => text.charAt(0).toLowerCase() + text.slice(1)

function yamlSentence(code: string, message: string): [string, string] {
  if (code === 'TAB_AS_INDENT')
    return ['tab', 'YAML indents with spaces only; a tab stands here: replace it with spaces']
  return ['yaml', `This is not YAML: ${lower(firstLine(message))}: look here and at the line before`]
}
