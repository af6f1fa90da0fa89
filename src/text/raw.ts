import { type Alias, isAlias, isMap, isPair, isScalar, isSeq, type Node, type Pair, type YAMLMap } from 'yaml'
import { shown } from './problems.ts'

/** Deepest nesting that a register needs, with room. */
export const MOST_DEPTH = 12
const MOST_ALIASED = 20_000
/** Most entries of one list or map. */
const MOST_ENTRIES = 20_000

/** A value as YAML gives it; maps have no prototype. */
export type Raw = string | number | boolean | null | Raw[] | { [key: string]: Raw }
export type Path = readonly (string | number)[]

type Report = (node: unknown, path: Path, code: string, message: string) => void

// Names that mean something to every JavaScript object.
const RESERVED = new Set(['__proto__', 'constructor', 'prototype'])

/** Turns YAML nodes into plain values; keeps the way from a path back to its nodes. */
export class RawReader {
  readonly #report: Report
  readonly #lineOf: (node: unknown) => number
  readonly #anchors = new Map<string, Node>()
  readonly #pairs = new WeakMap<YAMLMap, Map<string, Pair>>()
  readonly #aims = new Map<Alias, Node>()
  #aliased = 0
  /** True when something was left out because it went too far. */
  cut = false

  /** @param lineOf - the line of a node, from 1 */
  constructor(report: Report, lineOf: (node: unknown) => number) {
    this.#report = report
    this.#lineOf = lineOf
  }

  read(node: unknown): Raw {
    return this.#value(node, [], false)
  }

  /** The node that a node stands for: an alias's aim, anything else itself. */
  aim(node: unknown): unknown {
    return isAlias(node) ? this.#aims.get(node) : node
  }

  /** The pair of a key; the first where a key stands twice. */
  pair(map: YAMLMap, key: string): Pair | undefined {
    return this.#pairs.get(map)?.get(key)
  }

  #value(node: unknown, path: Path, inAlias: boolean): Raw {
    if (inAlias && ++this.#aliased > MOST_ALIASED) {
      if (this.#aliased === MOST_ALIASED + 1) {
        const message = `Aliases may stand for at most ${MOST_ALIASED} values; these grow beyond it: write the values out`
        this.#report(node, path, 'too-many-aliases', message)
      }
      this.cut = true
      return null
    }
    if (isAlias(node)) {
      const aim = this.#anchors.get(node.source)
      if (!aim) {
        const message = `An alias stands for an anchor given before it; there is none named ${shown(node.source)}: write the value out`
        this.#report(node, path, 'alias-unknown', message)
        this.cut = true
        return null
      }
      this.#aims.set(node, aim)
      return this.#value(aim, path, true)
    }
    if (isScalar(node)) {
      if (node.anchor) this.#anchors.set(node.anchor, node)
      return scalar(node.value, node.source, node.type === 'PLAIN', path.at(-2) === 'words')
    }
    if (!isMap(node) && !isSeq(node)) return null
    if (path.length >= MOST_DEPTH) {
      const message = `A register nests at most ${MOST_DEPTH} deep; this goes deeper: check the indents and brackets before it`
      this.#report(node, path, 'too-deep', message)
      this.cut = true
      return null
    }
    if (node.anchor && !inAlias) this.#anchors.set(node.anchor, node)
    if (node.items.length > MOST_ENTRIES) {
      const message = `A list or map has at most ${MOST_ENTRIES} entries; this one has ${node.items.length}: check that it is the right file`
      this.#report(node, path, 'too-many', message)
      this.cut = true
    }
    if (isSeq(node))
      return node.items.slice(0, MOST_ENTRIES).map((item, index) => this.#value(item, [...path, index], inAlias))
    return this.#map(node, path, inAlias)
  }

  #map(node: YAMLMap, path: Path, inAlias: boolean): Raw {
    const map = Object.create(null) as { [key: string]: Raw }
    const pairs = this.#pairs.get(node) ?? new Map<string, Pair>()
    this.#pairs.set(node, pairs)
    for (const pair of node.items.slice(0, MOST_ENTRIES)) {
      if (!isPair(pair)) continue
      const name = isScalar(pair.key) ? String(pair.key.source ?? pair.key.value) : undefined
      const fault = keyFault(name, () => this.#lineOf(pairs.get(name!)?.key), map)
      if (fault) {
        if (!inAlias) this.#report(pair.key, name === undefined ? path : [...path, name], ...fault)
      } else if (name !== undefined) {
        pairs.set(name, pair)
        map[name] = this.#value(pair.value, [...path, name], inAlias)
      }
    }
    return map
  }
}

function keyFault(name: string | undefined, first: () => number, map: object): [string, string] | undefined {
  if (name === undefined) {
    return [
      'key',
      'A key is plain text; a list or a map stands here as one: look for braces or brackets that want quotes',
    ]
  }
  if (RESERVED.has(name) || /[\0\p{Cs}]/u.test(name))
    return ['reserved-key', `${shown(name)} cannot be a name here: choose another`]
  if (Object.hasOwn(map, name)) {
    return [
      'duplicate-key',
      `A key stands once in a map; ${shown(name)} of line ${first()} stands here again: keep one of the two`,
    ]
  }
  return undefined
}

function scalar(value: unknown, source: string | undefined, plain: boolean, isWord: boolean): Raw {
  if (typeof value === 'string') {
    // YAML 1.1 readers take these for booleans, so one file would mean two things; y and n matter in payloads only.
    const boolean = isWord ? /^(?:yes|no|on|off|y|n)$/i : /^(?:yes|no|on|off)$/i
    return plain && boolean.test(value) ? /^(?:yes|on|y)$/i.test(value) : value
  }
  if (typeof value === 'number' || typeof value === 'boolean' || value === null) return value
  return source ?? null
}
