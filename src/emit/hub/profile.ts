import { isMap, isScalar, type Node, type YAMLMap } from 'yaml'
import { pointerParts, pointerUnder } from '../../text/json-pointer.ts'
import { nearest } from '../../text/nearest.ts'
import type { Problem } from '../../text/problem.ts'
import { shown } from '../../text/problems.ts'
import { FIELDS, type Filling, fillingText, isField } from './fields.ts'
import { readHubFile } from './hub-file.ts'
import type { Shape } from './place.ts'
import { twoFaced } from './two-faced.ts'
import { isList, isValueMap, readValue, type Value, type ValueMap, valueAt } from './value.ts'
import { yamlText } from './write.ts'

/** How a hub wants one entry, and where: learned from the hub's manual or from an entry written by hand. */
export interface Profile {
  /** JSON Pointer (RFC 6901) in the hub's file to the collection of entries; '' is the whole file. */
  readonly place: string
  readonly as: Shape
  /** What makes an entry's key, in a map. */
  readonly key?: Filling
  /** One entry as the hub wants it. */
  readonly entry: ValueMap
  /** JSON Pointers in the entry, and what to put there for each opening. */
  readonly fill: ReadonlyMap<string, Filling>
}

const KEYS = ['place', 'as', 'key', 'entry', 'fill'] as const

/** Reads a profile file; every problem at once, with its place. */
export function parseProfile(text: string): {
  profile?: Profile
  problems: readonly Problem[]
  remarks: readonly string[]
} {
  const { hub: file, problems: unread } = readHubFile(text, '', 'profile')
  if (!file) return { problems: unread, remarks: [] }
  const problems: Problem[] = []
  const remarks: string[] = []
  const fault = (node: Node | null | undefined, path: string, code: string, message: string) => {
    problems.push(file.problem(code, node?.range?.[0] ?? 0, node?.range?.[1] ?? 1, path, message))
  }
  const { root } = file
  if (!isMap(root)) {
    fault(
      root,
      '',
      'profile',
      `A profile is a map with ${KEYS.join(', ')}: begin with one of the examples, or let --like write it`,
    )
    return { problems, remarks }
  }
  const nodes = new Map<string, Node | null>()
  for (const { key, value } of root.items) {
    const name = isScalar(key) ? String(key.value) : ''
    if ((KEYS as readonly string[]).includes(name)) nodes.set(name, value as Node | null)
    else
      fault(
        key as Node,
        `/${name}`,
        'unknown-key',
        `A profile has the keys ${KEYS.join(', ')}; ${shown(name)} is none${hint(name, KEYS)}`,
      )
  }
  const value = (name: string): Value | undefined =>
    nodes.has(name)
      ? readValue(nodes.get(name) ?? null, file.document!, (node, code, message) =>
          fault(node, `/${name}`, code, message),
        )
      : undefined
  const [place, as, key, entry, fill] = KEYS.map(value)

  if (typeof place !== 'string' || pointerParts(place) === undefined) {
    fault(
      nodes.get('place') ?? root,
      '/place',
      'pointer',
      `place is a JSON Pointer to the hub's own list or map, such as /rooms/contacts ('' for the whole file); here is ${place === undefined ? 'nothing' : shown(place)}`,
    )
  }
  if (as !== 'list' && as !== 'map') {
    fault(
      nodes.get('as') ?? root,
      '/as',
      'shape',
      `as is list or map; here is ${as === undefined ? 'nothing' : shown(as)}`,
    )
  }
  if (!isValueMap(entry) || entry.size === 0) {
    fault(
      nodes.get('entry') ?? root,
      '/entry',
      'entry',
      'entry is one entry as the hub wants it: a map with at least one key',
    )
  }
  const asFilling = (held: Value | undefined, node: Node | null | undefined, path: string): Filling | undefined => {
    const map = isValueMap(held) ? held : new Map<string, Value>([['field', held ?? null]])
    const field = map.get('field')
    for (const [name, part] of map) {
      if (name === 'field') continue
      if (name !== 'before' && name !== 'after')
        fault(
          node,
          path,
          'unknown-key',
          `A filling is a field, or { field, before, after }; ${shown(String(name))} is none of these`,
        )
      else if (typeof part !== 'string')
        fault(node, path, 'filling', `${name} is text that stands ${name} the field; put it in quotes`)
    }
    if (!isField(field)) {
      fault(
        node,
        path,
        'field',
        `A field is one of ${FIELDS.join(', ')}; here is ${shown(field)}${typeof field === 'string' ? hint(field, FIELDS) : ''}`,
      )
      return undefined
    }
    const around = (name: string) => (typeof map.get(name) === 'string' ? { [name]: map.get(name) as string } : {})
    return { field, ...around('before'), ...around('after') }
  }
  if (key !== undefined && as === 'list')
    fault(nodes.get('key'), '/key', 'key', 'A list has no keys: take key out, or say as: map')
  const keyFilling =
    as === 'map'
      ? key === undefined
        ? { field: 'mark' as const }
        : asFilling(key, nodes.get('key'), '/key')
      : undefined

  const fillings = new Map<string, Filling>()
  if (!isValueMap(fill) || fill.size === 0) {
    fault(
      nodes.get('fill') ?? root,
      '/fill',
      'fill',
      'fill says which values of the entry change from opening to opening: a map from JSON Pointers into the entry to fields, such as /heading: name',
    )
  } else {
    for (const [pointer, held] of fill) {
      const name = String(pointer)
      const path = pointerUnder('/fill', name)
      const node = nodeOf(nodes.get('fill'), name)
      const filling = asFilling(held, node, path)
      const target = isValueMap(entry) ? valueAt(entry, name) : null
      if (name === '' || pointerParts(name) === undefined)
        fault(
          node,
          path,
          'pointer',
          `fill leads into the entry by JSON Pointers such as /heading; ${shown(name)} is none`,
        )
      else if (isValueMap(entry) && target === undefined)
        fault(
          node,
          path,
          'pointer',
          `Nothing stands at ${name} in the entry: give it any value there, it will be replaced`,
        )
      else if (isList(target) || isValueMap(target))
        fault(
          node,
          path,
          'pointer',
          `A ${isList(target) ? 'list' : 'map'} stands at ${name} in the entry; only a single value can be filled`,
        )
      if (filling) fillings.set(name, filling)
    }
    const named = [...fillings.values(), ...(keyFilling ? [keyFilling] : [])].map(({ field }) => field)
    if (fillings.size && !named.some(field => ['topic', 'client', 'mark', 'name'].includes(field))) {
      fault(
        nodes.get('fill'),
        '/fill',
        'fill',
        'fill holds at least one of topic, client, mark and name: without it every opening would get the same entry',
      )
    } else if (fillings.size && !named.includes('topic'))
      remarks.push('The profile fills no topic: does the hub hear the contacts by another way?')
  }
  if (problems.length) return { problems: problems.sort((a, b) => a.line - b.line || a.column - b.column), remarks }
  remarks.push(...twoFaced(nodes.get('entry') ?? null, file, fillings))
  return {
    profile: {
      place: place as string,
      as: as as Shape,
      ...(keyFilling && { key: keyFilling }),
      entry: entry as ValueMap,
      fill: fillings,
    },
    problems,
    remarks,
  }
}

const hint = (word: string, known: Iterable<string>): string => {
  const near = nearest(word, known)
  return near ? `; did you mean ${near}?` : ''
}

const nodeOf = (map: Node | null | undefined, key: string): Node | null | undefined =>
  (isMap(map)
    ? (map as YAMLMap).items.find(pair => isScalar(pair.key) && String(pair.key.value) === key)?.value
    : undefined) as Node | null | undefined

/** A profile as a file that `parseProfile` reads back. */
export function profileText({ place, as, key, entry, fill }: Profile): string {
  const fillings = new Map([...fill].map(([pointer, filling]) => [pointer, fillingText(filling)]))
  return yamlText({ place, as, ...(key && { key: fillingText(key) }), entry, fill: fillings }, [
    'How this hub wants one entry (entry), where its entries stand (place, as),',
    'and which values change from opening to opening (fill).',
  ])
}
