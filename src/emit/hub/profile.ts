import { isMap, isScalar, type Node, type YAMLMap } from 'yaml'
import { pointerParts, pointerUnder } from '../../text/json-pointer.ts'
import { nearest } from '../../text/nearest.ts'
import type { Problem } from '../../text/problem.ts'
import { shown } from '../../text/problems.ts'
import { yamlLines } from '../../text/yaml-lines.ts'
import { isList, isValueMap, readValue, scalarsOf, type Value, type ValueMap, valueAt } from '../../text/yaml-value.ts'
import type { CollectionKind } from './entry-place.ts'
import { type Field, OWN_FIELDS } from './field-names.ts'
import { type Filling, fieldsOf, fillingValue, readFilling } from './filling.ts'
import { readHubFile } from './hub-file.ts'
import { readsTwoWays } from './reads-two-ways.ts'

/** How a hub wants one entry, and where: learned from the hub's manual or from an entry written by hand. */
export interface Profile {
  /** JSON Pointer (RFC 6901) in the hub's file to the collection of entries; '' is the whole file. */
  readonly place: string
  readonly as: CollectionKind
  /** What makes an entry's key, in a map. */
  readonly key?: Filling
  /** One entry as the hub wants it. */
  readonly entry: ValueMap
  /** JSON Pointers in the entry, and what stands there for each opening; null: the entry's own value, on purpose. */
  readonly fill: ReadonlyMap<string, Filling | null>
}

/** Fields that a profile fills, each with the places that hold it; the key of an entry is `key`. */
export function placesOf({ key, fill }: Pick<Profile, 'key' | 'fill'>): Map<Field, string[]> {
  const places = new Map<Field, string[]>()
  const add = (filling: Filling | null, place: string) => {
    for (const field of new Set(filling ? fieldsOf(filling) : [])) {
      const held = places.get(field)
      if (held) held.push(place)
      else places.set(field, [place])
    }
  }
  if (key) add(key, 'key')
  for (const [pointer, filling] of fill) add(filling, pointer)
  return places
}

/** True when something in every entry is one opening's own. */
export const tellsApart = (profile: Pick<Profile, 'key' | 'fill'>): boolean =>
  OWN_FIELDS.some(field => placesOf(profile).has(field))

export const NOTHING_OWN = `Something of an entry is its opening's own: fill at least one of ${OWN_FIELDS.join(', ')}`

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
    const says = `A profile is a map with ${KEYS.join(', ')}: begin with one of the examples, or let --like write it`
    fault(root, '', 'profile', says)
    return { problems, remarks }
  }
  const nodes = new Map<string, Node | null>()
  for (const { key, value } of root.items) {
    const name = isScalar(key) ? String(key.value) : ''
    const near = nearest(name, KEYS)
    if ((KEYS as readonly string[]).includes(name)) nodes.set(name, value as Node | null)
    else
      fault(
        key as Node,
        `/${name}`,
        'unknown-key',
        `A profile has the keys ${KEYS.join(', ')}; ${shown(name)} is none${near ? `; did you mean ${near}?` : ''}`,
      )
  }
  const value = (name: string): Value | undefined =>
    nodes.has(name)
      ? readValue(nodes.get(name) ?? null, file.document!, (node, code, message) =>
          fault(node, `/${name}`, code, message),
        )
      : undefined
  const [place, as, key, entry, fill] = KEYS.map(value)
  const faultAt = (name: (typeof KEYS)[number], code: string, message: string) =>
    fault(nodes.get(name) ?? root, `/${name}`, code, message)

  if (typeof place !== 'string' || pointerParts(place) === undefined)
    faultAt(
      'place',
      'pointer',
      `place is a JSON Pointer to the hub's own list or map, such as /rooms/contacts ('' for the whole file); here is ${place === undefined ? 'nothing' : shown(place)}`,
    )
  if (as !== 'list' && as !== 'map')
    faultAt('as', 'shape', `as is list or map; here is ${as === undefined ? 'nothing' : shown(as)}`)
  if (!isValueMap(entry) || entry.size === 0)
    faultAt('entry', 'entry', 'entry is one entry as the hub wants it: a map with at least one key')
  const read = (held: Value, node: Node | null | undefined, path: string): Filling | undefined => {
    const { filling, faults } = readFilling(held)
    for (const { code, message } of faults) fault(node, path, code, message)
    return filling
  }
  if (key !== undefined && as === 'list') faultAt('key', 'key', 'A list has no keys: take key out, or say as: map')
  const keyFilling =
    as === 'map' ? (key === undefined ? ['mark' as const] : read(key, nodes.get('key'), '/key')) : undefined

  const fillings = new Map<string, Filling | null>()
  if (!isValueMap(fill) || fill.size === 0)
    faultAt(
      'fill',
      'fill',
      'fill says which values of the entry change from opening to opening: a map from JSON Pointers into the entry to fields, such as /heading: name',
    )
  else
    for (const [pointer, held] of fill) {
      const name = String(pointer)
      const path = pointerUnder('/fill', name)
      const node = nodeOf(nodes.get('fill'), name)
      const filling = held === null ? null : read(held, node, path)
      const says = isValueMap(entry) ? pointerFault(name, entry) : undefined
      if (says) fault(node, path, 'pointer', says)
      if (filling !== undefined) fillings.set(name, filling)
    }
  const learned = { fill: fillings, ...(keyFilling && { key: keyFilling }) }
  if (fillings.size && problems.length === 0) {
    if (!tellsApart(learned)) faultAt('fill', 'fill', NOTHING_OWN)
    else if (!placesOf(learned).has('topic'))
      remarks.push('The profile fills no topic: does the hub hear the contacts by another way?')
  }
  if (problems.length) return { problems: problems.sort((a, b) => a.line - b.line || a.column - b.column), remarks }
  remarks.push(...readsTwoWays(nodes.get('entry') ?? null, file, fillings))
  const profile = { place: place as string, as: as as CollectionKind, ...learned, entry: entry as ValueMap }
  return { profile, problems, remarks }
}

/** What is wrong with a pointer into an entry to a value that is filled; undefined when nothing is. */
export function pointerFault(pointer: string, entry: Value): string | undefined {
  if (pointer === '' || pointerParts(pointer) === undefined)
    return `fill leads into the entry by JSON Pointers such as /heading; ${shown(pointer)} is none`
  const target = valueAt(entry, pointer)
  if (target === undefined)
    return `Nothing stands at ${pointer} in the entry, which has ${[...scalarsOf(entry)].map(([p]) => p).join(', ')}: choose one of these, or put any value there`
  if (isList(target) || isValueMap(target))
    return `A ${isList(target) ? 'list' : 'map'} stands at ${pointer} in the entry; only a single value can be filled`
  return undefined
}

const nodeOf = (map: Node | null | undefined, key: string): Node | null | undefined =>
  (isMap(map)
    ? (map as YAMLMap).items.find(pair => isScalar(pair.key) && String(pair.key.value) === key)?.value
    : undefined) as Node | null | undefined

/** Lines of a profile that `parseProfile` reads back. */
export function profileLines({ place, as, key, entry, fill }: Profile): string[] {
  const fillings = new Map([...fill].map(([pointer, filling]) => [pointer, filling && fillingValue(filling)]))
  return yamlLines({ place, as, ...(key && { key: fillingValue(key) }), entry, fill: fillings })
}

/** A profile as a file of its own. */
export const profileText = (profile: Profile): string =>
  [
    '# How this hub wants one entry (entry), where its entries stand (place, as),',
    '# and what changes from opening to opening (fill).',
    ...profileLines(profile),
    '',
  ].join('\n')
