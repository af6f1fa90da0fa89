import { type Document, isAlias, isMap, isScalar, isSeq, type Node } from 'yaml'
import { isListIndex, pointerParts, pointerUnder } from './json-pointer.ts'

export type Scalar = string | number | boolean | null
/** A YAML value with its keys as they are: `1: a` keeps a number for a key. */
export type Value = Scalar | readonly Value[] | ValueMap
export type ValueMap = ReadonlyMap<Scalar, Value>

export const isValueMap = (value: unknown): value is ValueMap => value instanceof Map
export const isList = (value: Value | undefined): value is readonly Value[] => Array.isArray(value)

export const stepInto = (value: Value | undefined, part: string): Value | undefined => {
  if (isList(value)) return isListIndex(part) ? value[Number(part)] : undefined
  if (!isValueMap(value)) return undefined
  for (const [key, held] of value) if (String(key) === part) return held
  return undefined
}

/** What a JSON Pointer leads to; undefined when nothing stands there. */
export function valueAt(value: Value, pointer: string): Value | undefined {
  return pointerParts(pointer)?.reduce<Value | undefined>(stepInto, value)
}

/** The node that a JSON Pointer leads to, aliases not followed; null where there is none. */
export function nodeAt(root: Node | null, pointer: string): Node | null {
  return (pointerParts(pointer) ?? []).reduce<Node | null>((node, part) => {
    if (isSeq(node)) return (node.items[Number(part)] as Node | undefined) ?? null
    if (!isMap(node)) return null
    return (node.items.find(({ key }) => isScalar(key) && String(key.value) === part)?.value as Node | null) ?? null
  }, root)
}

/** Every scalar with its pointer, in order. */
export function* scalarsOf(value: Value, pointer = ''): Generator<[string, Scalar]> {
  if (isList(value)) {
    for (const [index, item] of value.entries()) yield* scalarsOf(item, pointerUnder(pointer, index))
  } else if (isValueMap(value)) {
    for (const [key, held] of value) yield* scalarsOf(held, pointerUnder(pointer, key))
  } else yield [pointer, value]
}

/** True when two values are equal as data: the order of a map's keys does not matter. */
export function isSameData(one: Value | undefined, other: Value | undefined): boolean {
  if (isList(one))
    return isList(other) && one.length === other.length && one.every((item, index) => isSameData(item, other[index]))
  if (!isValueMap(one)) return Object.is(one, other)
  return (
    isValueMap(other) && one.size === other.size && [...one].every(([key, held]) => isSameData(held, other.get(key)))
  )
}

/** Pointers to the scalars at which two values differ; those that only one of them has, too. */
export function differences(one: Value, other: Value): string[] {
  const [these, those] = [new Map(scalarsOf(one)), new Map(scalarsOf(other))]
  const changed = [...these].filter(([pointer, held]) => !those.has(pointer) || !Object.is(those.get(pointer), held))
  return [...changed.map(([pointer]) => pointer), ...[...those.keys()].filter(pointer => !these.has(pointer))]
}

export type Fault = (node: Node | null, code: string, message: string) => void

const MOST_NODES = 20_000

/**
 * The value of a node, aliases and merge keys written out.
 * What cannot be repeated in another entry (tags, keys that are collections) goes to `fault`.
 */
export function readValue(root: Node | null, document: Document, fault: Fault): Value {
  let nodes = 0
  const aims = new Map<string, Node | null>()

  function read(node: Node | null, within: readonly Node[]): Value {
    if (node === null) return null
    if (++nodes > MOST_NODES) {
      if (nodes === MOST_NODES + 1)
        fault(
          node,
          'too-many-aliases',
          `An entry holds at most ${MOST_NODES} values, aliases written out; this one grows beyond it`,
        )
      return null
    }
    if (isAlias(node)) {
      if (!aims.has(node.source)) aims.set(node.source, node.resolve(document) ?? null)
      const aim = aims.get(node.source) ?? null
      if (aim && within.includes(aim)) {
        fault(node, 'alias-of-itself', `*${node.source} stands inside its own anchor: it cannot be written out`)
        return null
      }
      return read(aim, within)
    }
    if (node.tag !== undefined && !(isScalar(node) && node.tag === 'tag:yaml.org,2002:str')) {
      fault(
        node,
        'tag',
        `The tag ${node.tag} belongs to this one value: an entry that is repeated for other openings cannot carry it`,
      )
      return null
    }
    if (isScalar(node)) return scalar(node.value, node)
    const inside = [...within, node]
    if (isSeq(node)) return node.items.map(item => read(item as Node | null, inside))
    if (!isMap(node)) return null
    const held = new Map<Scalar, Value>()
    const merged: ValueMap[] = []
    for (const pair of node.items) {
      const key = pair.key as Node | null
      if (isMergeKey(key)) {
        const value = read(pair.value as Node | null, inside)
        merged.push(...(isList(value) ? value : [value]).filter(isValueMap))
      } else if (key !== null && !isScalar(key)) {
        if (isMap(key))
          fault(key, 'braces', 'Unquoted, {{ }} is a map inside a map to YAML, not text: put the whole value in quotes')
        else fault(key, 'key', 'A key here is one word, not a list, a map or an alias: write the word')
      } else held.set(isScalar(key) ? scalar(key.value, key) : null, read(pair.value as Node | null, inside))
    }
    for (const map of merged) for (const [key, value] of map) if (!held.has(key)) held.set(key, value)
    return held
  }

  function scalar(value: unknown, node: Node): Scalar {
    if (
      typeof value === 'number' &&
      Number.isInteger(value) &&
      !Number.isSafeInteger(value) &&
      Math.abs(value) < 1e21
    ) {
      fault(node, 'number', 'This number has more digits than can be kept exactly: put it in quotes if it is a name')
    }
    if (value === null || typeof value === 'string' || typeof value === 'number' || typeof value === 'boolean')
      return value
    fault(
      node,
      'value',
      'Text, numbers, true, false and null can be repeated in other entries; this value is of another kind: put it in quotes',
    )
    return null
  }

  return read(root, [])
}

const isMergeKey = (key: Node | null): boolean =>
  isScalar(key) && (key.value === '<<' ? key.type === 'PLAIN' : typeof key.value === 'symbol')
