import {
  type Alias,
  isAlias,
  isMap,
  isPair,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  parseAllDocuments,
  type YAMLMap,
} from 'yaml'
import { Lines, pointer, shown, withoutMark } from './problems.ts'
import type { Problem } from './types.ts'

/** Longest register text, in characters. */
export const MOST_CHARACTERS = 2_000_000
const MOST_DEPTH = 12
const MOST_ALIASED = 20_000

/** A value as YAML gives it; maps have no prototype. */
export type Raw = string | number | boolean | null | Raw[] | { [key: string]: Raw }
export type Path = readonly (string | number)[]

/** A register text after YAML: its value, what YAML found wrong, and the way back to line and column. */
export interface Tree {
  /** Undefined when there is nothing to read. */
  readonly value: Raw | undefined
  readonly problems: readonly Problem[]
  /** True when YAML itself failed somewhere: something may be missing that the person wrote. */
  readonly broken: boolean
  /** A problem at the key or the value that `path` leads to, or at the nearest thing above it. */
  problem(path: Path, at: 'key' | 'value', code: string, message: string, severity?: Problem['severity']): Problem
  /** The text a person wrote for a value, quotes included. */
  source(path: Path): string
  line(path: Path): number
}

/** Reads YAML 1.2 text; never throws. */
export function readTree(whole: string): Tree {
  const text = withoutMark(whole)
  const lines = new Lines(text)
  const problems: Problem[] = []
  const pairsOf = new WeakMap<YAMLMap, Map<string, Pair>>()
  const aimOf = new Map<Alias, Node>()
  let root: Node | null = null
  let broken = false

  const spanned = (
    from: number,
    to: number,
    path: Path,
    code: string,
    message: string,
    severity: Problem['severity'] = 'error',
  ): Problem => {
    const start = Math.min(Math.max(from, 0), text.length)
    const length = Math.max(1, Math.min(to, lines.endOfLine(start)) - start)
    return { code, severity, ...lines.at(start), length, path: pointer(path), message }
  }

  function span(path: Path, at: 'key' | 'value'): readonly [number, number] {
    let node: unknown = root
    let range: readonly [number, number] = [firstInk(text), lines.endOfLine(firstInk(text))]
    for (const [index, step] of path.entries()) {
      if (isAlias(node)) node = aimOf.get(node)
      const last = index === path.length - 1
      if (isMap(node)) {
        const pair = pairsOf.get(node)?.get(String(step))
        if (!pair) return range
        const key = rangeOf(pair.key) ?? range
        const value = rangeOf(pair.value)
        range = last && at === 'value' && value && value[1] > value[0] ? value : key
        node = pair.value
      } else if (isSeq(node) && typeof step === 'number') {
        const item = rangeOf(node.items[step])
        if (!item) return range
        range = item
        node = node.items[step]
      } else return range
    }
    return range
  }

  const fail = (code: string, from: number, to: number, message: string): Tree => {
    problems.push(spanned(from, to, [], code, message))
    return tree(undefined)
  }

  const tree = (value: Raw | undefined): Tree => ({
    value,
    problems,
    broken,
    problem: (path, at, code, message, severity) => spanned(...span(path, at), path, code, message, severity),
    source: path => text.slice(...span(path, 'value')),
    line: path => lines.at(span(path, 'value')[0]).line,
  })

  if (text.length > MOST_CHARACTERS) {
    return fail(
      'too-long',
      0,
      1,
      `A register has at most ${MOST_CHARACTERS} characters; this one has ${text.length}: check that it is the right file`,
    )
  }
  const nul = text.indexOf('\0')
  if (nul >= 0)
    return fail(
      'not-text',
      nul,
      nul + 1,
      'A register is a text file; this one holds the character U+0000: check that it is the right file, saved as UTF-8',
    )
  if (text.includes('\r') && !text.includes('\n')) {
    return fail(
      'line-ends',
      text.indexOf('\r'),
      0,
      'Lines end with a line feed; this file has carriage returns only: save it with LF or CRLF line ends',
    )
  }

  let documents: ReturnType<typeof parseAllDocuments>
  try {
    documents = parseAllDocuments(text, {
      prettyErrors: false,
      logLevel: 'silent',
      uniqueKeys: false,
      keepSourceTokens: false,
    })
  } catch (error) {
    if (!(error instanceof RangeError)) throw error
    return fail(
      'too-deep',
      firstInk(text),
      0,
      `A register nests at most ${MOST_DEPTH} deep; this text nests so deep that it cannot be read: look for brackets that are never closed`,
    )
  }
  const [first, second] = Array.isArray(documents) ? documents : []
  root = (first?.contents as Node | null | undefined) ?? null
  for (const error of (Array.isArray(documents) ? documents : []).flatMap(d => d.errors)) {
    broken = true
    problems.push(spanned(error.pos[0], error.pos[1], [], ...yamlSentence(error.code, error.message)))
  }
  for (const warning of first?.warnings ?? []) {
    problems.push(
      spanned(
        warning.pos[0],
        warning.pos[1],
        [],
        'yaml-tag',
        `${sentence(warning.message)}: leave the tag out`,
        'warning',
      ),
    )
  }
  if (second) {
    const from = second.range?.[0] ?? 0
    problems.push(
      spanned(
        from,
        lines.endOfLine(from),
        [],
        'several-documents',
        'A register is one YAML document; a second one begins here: take the line --- out, or keep two files',
      ),
    )
  }

  const anchors = new Map<string, Node>()
  let aliased = 0
  let full = false
  const value = toRaw(root, [], 0, false)
  return tree(value)

  function toRaw(node: unknown, path: Path, depth: number, inAlias: boolean): Raw {
    if (full) return null
    if (inAlias && ++aliased > MOST_ALIASED) {
      full = broken = true
      const [from, to] = span(path, 'value')
      problems.push(
        spanned(
          from,
          to,
          path,
          'too-many-aliases',
          `Aliases may stand for at most ${MOST_ALIASED} values; these grow beyond it: write the values out`,
        ),
      )
      return null
    }
    if (isAlias(node)) {
      const aim = anchors.get(node.source)
      if (!aim) return null
      aimOf.set(node, aim)
      return toRaw(aim, path, depth, true)
    }
    if (isScalar(node)) {
      if (node.anchor) anchors.set(node.anchor, node)
      return scalar(node.value, node.source, node.type === 'PLAIN', path)
    }
    if (!isMap(node) && !isSeq(node)) return null
    if (depth >= MOST_DEPTH) {
      const [from, to] = rangeOf(node) ?? [0, 1]
      problems.push(
        spanned(
          from,
          to,
          path,
          'too-deep',
          `A register nests at most ${MOST_DEPTH} deep; this goes deeper: check the indents and brackets before it`,
        ),
      )
      broken = true
      return null
    }
    if (node.anchor && !inAlias) anchors.set(node.anchor, node)
    if (isSeq(node)) return node.items.map((item, index) => toRaw(item, [...path, index], depth + 1, inAlias))
    const map = Object.create(null) as { [key: string]: Raw }
    const pairs = pairsOf.get(node) ?? new Map<string, Pair>()
    pairsOf.set(node, pairs)
    for (const pair of node.items) {
      if (!isPair(pair)) continue
      const name = isScalar(pair.key) ? String(pair.key.source ?? pair.key.value) : undefined
      const [from, to] = rangeOf(pair.key) ?? [0, 1]
      if (name === undefined) {
        if (!inAlias)
          problems.push(
            spanned(
              from,
              to,
              path,
              'key',
              'A key is one word; a list or a map stands here as a key: check for a missing space after a colon or for braces that want quotes',
            ),
          )
      } else if (RESERVED.has(name)) {
        if (!inAlias)
          problems.push(
            spanned(from, to, path, 'reserved-key', `${shown(name)} cannot be a key here: choose another name`),
          )
      } else if (Object.hasOwn(map, name)) {
        if (!inAlias)
          problems.push(
            spanned(
              from,
              to,
              [...path, name],
              'duplicate-key',
              `A key stands once in a map; ${shown(name)} stands here again: keep one of the two`,
            ),
          )
      } else {
        pairs.set(name, pair)
        map[name] = toRaw(pair.value, [...path, name], depth + 1, inAlias)
      }
    }
    return map
  }

  function scalar(value: unknown, source: string | undefined, plain: boolean, path: Path): Raw {
    if (typeof value === 'string') {
      const word = path.at(-2) === 'words' ? /^(?:yes|no|on|off|y|n)$/i : /^(?:yes|no|on|off)$/i
      // YAML 1.1 readers take these for booleans, so the same file would mean two things.
      return plain && word.test(value) ? /^(?:yes|on|y)$/i.test(value) : value
    }
    if (typeof value === 'number' || typeof value === 'boolean' || value === null) return value
    return source ?? null
  }
}

const RESERVED = new Set(['__proto__', 'constructor', 'prototype'])

const firstInk = (text: string): number => Math.max(0, text.search(/\S/))

function rangeOf(node: unknown): readonly [number, number] | undefined {
  const range = (node as Node | null | undefined)?.range
  return range ? [range[0], range[1]] : undefined
}

const sentence = (message: string): string => message.split('\n', 1)[0]!.replace(/[.:]$/, '').slice(0, 160)

function yamlSentence(code: string, message: string): [string, string] {
  if (code === 'TAB_AS_INDENT')
    return ['tab', 'YAML indents with spaces only; a tab stands here: replace it with spaces']
  if (code === 'MULTIPLE_DOCS')
    return ['several-documents', 'A register is one YAML document; a second one begins here']
  return ['yaml', `This is not YAML: ${sentence(message)}`]
}
