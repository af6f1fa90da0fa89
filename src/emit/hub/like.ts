import { isMap, isScalar, isSeq, type Node } from 'yaml'
import type { Opening, Register } from '../../register/types.ts'
import { pointerParts, pointerUnder } from '../../text/json-pointer.ts'
import type { Problem } from '../../text/problem.ts'
import { shown } from '../../text/problems.ts'
import { findEntry } from './example.ts'
import { type Field, type Filling, FOUND_FIELDS, fieldOf, OWN_FIELDS, WIRES, type Wire } from './fields.ts'
import type { HubFile } from './hub-file.ts'
import type { Profile } from './profile.ts'
import { twoFaced } from './two-faced.ts'
import { isList, isValueMap, readValue, type Scalar, scalarsOf, type ValueMap, valueAt } from './value.ts'

export interface LikeOptions {
  readonly wire: Wire
  /** What the person settled: JSON Pointers in the entry, or `key`, to a field; null keeps the value as it is. */
  readonly fill: ReadonlyMap<string, Field | null>
}

/**
 * Learns a profile from the one entry that a person wrote by hand for an opening.
 * Only strings equal in full are taken for fields; ties come back as remarks, doubts as problems.
 */
export function like(
  hub: HubFile,
  register: Register,
  opening: Opening,
  { wire, fill }: LikeOptions,
): { profile?: Profile; problems: readonly Problem[]; remarks: readonly string[] } {
  const remarks: string[] = []
  const { found, written, problems: lost } = findEntry(hub, register, opening, wire)
  if (!found) return { problems: lost, remarks }
  const problems: Problem[] = []
  const fault = (node: Node | null | undefined, path: string, code: string, message: string) => {
    const range = (node ?? found.entry).range ?? [0, 1, 1]
    problems.push(hub.problem(code, range[0], range[1], path, message))
  }
  const value = readValue(found.entry, hub.document!, (node, code, message) => fault(node, found.place, code, message))
  if (!isValueMap(value) || problems.length) return { problems, remarks }
  if (written !== wire) {
    remarks.push(
      `The entry for ${opening.mark} listens to the ${written === 'tally' ? 'tally’s plain topic' : 'contact’s own topic'}; the others get the ${wire === 'tally' ? 'plain topics and words' : 'contacts’ own topics and words'}. Change ${opening.mark} by hand, or choose --wire ${written}`,
    )
  }
  const read = (field: Field) => fieldOf(opening, field, register, written)
  const own = new Map<Field, string[]>()
  for (const field of OWN_FIELDS)
    own.set(
      field,
      WIRES.map(w => String(fieldOf(opening, field, register, w))),
    )

  const matchOf = (text: Scalar, fields: readonly Field[], where: string): Filling | undefined => {
    const [first, ...others] = typeof text === 'string' ? fields.filter(field => read(field) === text) : []
    if (first && others.length)
      remarks.push(
        `${where} is ${shown(text)}, which is the ${first} and the ${others.join(' and the ')} of ${opening.mark}: taken as ${first}; another is chosen with --fill ${where}=${others[0]}, or --fill ${where}= to keep it as it is`,
      )
    return first && { field: first }
  }
  const settle = (text: Scalar, field: Field, where: string): Filling => {
    const around = typeof text === 'string' ? aroundOnce(text, String(read(field) ?? '')) : undefined
    if (!around && typeof text === 'string' && text !== read(field)) {
      remarks.push(
        `${where} is ${shown(text)} for ${opening.mark}, but its ${field} is ${shown(read(field) ?? 'not given')}: the others get their ${field} as it stands in the register`,
      )
    }
    return { field, ...(around?.before && { before: around.before }), ...(around?.after && { after: around.after }) }
  }
  const contained = (text: Scalar): { field: Field; text: string } | undefined => {
    if (typeof text !== 'string') return undefined
    const held = [...own].flatMap(([field, values]) => values.map(v => ({ field, text: v })))
    return held
      .filter(h => h.text !== '' && text.toLowerCase().includes(h.text.toLowerCase()))
      .sort((a, b) => b.text.length - a.text.length)[0]
  }

  const filled = new Map<string, Filling>()
  for (const [pointer, scalar] of scalarsOf(value)) {
    const node = nodeAt(found.entry, pointer)
    const asked = fill.get(pointer)
    if (asked === null) continue
    const filling = asked ? settle(scalar, asked, pointer) : matchOf(scalar, FOUND_FIELDS, pointer)
    if (filling) filled.set(pointer, filling)
    else {
      const inside = contained(scalar)
      if (!inside) continue
      const around = aroundOnce(scalar as string, inside.text)
      const result = around
        ? `, which keeps ${[around.before && `${shown(around.before)} before it`, around.after && `${shown(around.after)} after it`].filter(Boolean).join(' and ')}`
        : ''
      fault(
        node,
        found.place + pointer,
        'contains',
        `${pointer} is ${shown(scalar)}, which ${(scalar as string).toLowerCase() === inside.text.toLowerCase() ? `differs from the ${inside.field} of ${opening.mark} in upper and lower case only` : `contains the ${inside.field} of ${opening.mark} but is more than that`}, so all openings would share it: settle it with --fill ${pointer}=${inside.field}${result}, or --fill ${pointer}= to keep it as it is in all`,
      )
    }
  }
  for (const pointer of fill.keys()) {
    const target = valueAt(value, pointer)
    if (pointer === 'key' ? found.as === 'map' : target !== undefined && !isList(target) && !isValueMap(target))
      continue
    fault(
      null,
      found.place,
      'fill',
      pointer === 'key'
        ? `--fill key= settles the key of an entry in a map; this entry is an item of a list`
        : `--fill ${pointer}=: ${target === undefined ? 'nothing stands there in the entry' : 'a list or a map stands there, and only a single value can be filled'}; it has ${[...scalarsOf(value)].map(([p]) => p).join(', ')}`,
    )
  }
  keysWith(value, '', own, (pointer, name) =>
    fault(
      null,
      found.place + pointer,
      'key-in-entry',
      `The key ${shown(name)} inside the entry belongs to ${opening.mark}, and a profile fills values, not keys, so all openings would share it: give the entry another shape if the hub allows, or write these entries by hand`,
    ),
  )

  let key: Filling | undefined
  if (found.as === 'map') {
    const name = isScalar(found.key) ? (found.key.value as Scalar) : null
    const asked = fill.get('key')
    key = asked ? settle(name, asked, 'key') : asked === null ? undefined : matchOf(name, OWN_FIELDS, 'key')
    if (!key)
      fault(
        found.key,
        found.place,
        'key',
        `Each entry in a map needs a key of its own, and ${shown(name)} is none of mark, topic, client or name of ${opening.mark}: say --fill key=mark, or another of these`,
      )
  }
  if (problems.length) return { problems: problems.sort((a, b) => a.line - b.line), remarks }
  const fields = new Set([...filled.values()].map(({ field }) => field))
  const missing = (['name', 'topic', 'opened', 'rest'] as const).filter(
    field => !fields.has(field) && key?.field !== field,
  )
  if (missing.length)
    remarks.push(
      `Not found in the entry for ${opening.mark}: ${missing.map(field => `${field} (${shown(read(field) ?? '')})`).join(', ')}. What differs from opening to opening must stand in it word for word, or be named with --fill`,
    )
  remarks.push(...twoFaced(found.entry, hub, filled))
  return {
    profile: { place: found.place, as: found.as, ...(key && { key }), entry: value, fill: filled },
    problems,
    remarks,
  }
}

/** What stands around the one occurrence of `part`; undefined when it is not there just once, or is all there is. */
function aroundOnce(text: string, part: string): { before: string; after: string } | undefined {
  const pieces = part === '' || text === part ? [] : text.split(part)
  return pieces.length === 2 ? { before: pieces[0]!, after: pieces[1]! } : undefined
}

function nodeAt(entry: Node, pointer: string): Node | null {
  let node: Node | null = entry
  for (const part of pointerParts(pointer) ?? []) {
    if (isSeq(node)) node = (node.items[Number(part)] as Node | undefined) ?? null
    else if (isMap(node))
      node =
        (node.items.find(({ key }) => isScalar(key) && String(key.value) === part)?.value as Node | undefined) ?? null
    else return null
  }
  return node
}

function keysWith(
  value: unknown,
  pointer: string,
  own: ReadonlyMap<Field, readonly string[]>,
  report: (pointer: string, name: string) => void,
): void {
  if (isList(value as never))
    for (const [index, item] of (value as unknown[]).entries())
      keysWith(item, pointerUnder(pointer, index), own, report)
  if (!isValueMap(value)) return
  for (const [key, held] of value as ValueMap) {
    const name = String(key)
    // A short mark stands in many words: here only whole parts of a key count.
    const whole = [...own.values()]
      .flat()
      .some(
        text =>
          text !== '' &&
          new RegExp(`(?<![\\p{L}\\p{N}])${text.replace(/[\\^$.*+?()[\]{}|/]/g, '\\$&')}(?![\\p{L}\\p{N}])`, 'iu').test(
            name,
          ),
      )
    if (whole) report(pointerUnder(pointer, name), name)
    keysWith(held, pointerUnder(pointer, name), own, report)
  }
}
