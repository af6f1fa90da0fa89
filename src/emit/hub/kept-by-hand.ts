import { isPair, isScalar, type Node, type Pair, visit } from 'yaml'
import type { Register } from '../../register/types.ts'
import { isValueMap, readValue, type Scalar, type ValueMap } from '../../text/yaml-value.ts'
import { findPlace } from './entry-place.ts'
import { OWN_FIELDS, WIRES } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import { type Filling, fieldsOf, filled } from './filling.ts'
import type { HubFile } from './hub-file.ts'
import type { Profile } from './profile.ts'

/** An entry outside of our block that is one opening's. */
export interface ByHand {
  readonly mark: string
  readonly line: number
  /** List item, or pair of a map. */
  readonly item: Node | Pair
  readonly key?: Scalar
  /** Its value; undefined where something in it cannot be compared. */
  read(): ValueMap | undefined
}

/**
 * Entries that the person keeps by hand at the profile's place, outside our markers.
 * An entry is an opening's when it has its key, or holds its topic or its client id, or what the profile makes of
 * these or of its mark, and nothing of another opening's.
 */
export function keptByHand(hub: HubFile, profile: Profile, register: Register): readonly ByHand[] {
  const { place } = findPlace(hub, profile.place, profile.as)
  if (!place?.entries) return []
  const found = new Map<string, ByHand>()
  const { owners, keys } = ownersOf(profile, register)
  for (const item of place.entries.items as (Node | Pair)[]) {
    const key = isPair(item) && isScalar(item.key) ? (item.key.value as Scalar) : undefined
    const body = (isPair(item) ? item.value : item) as Node | null
    const held = new Set<string>()
    visit(body, {
      Scalar(_key, scalar) {
        const owner = owners.get(scalar.value as Scalar)
        if (owner !== undefined) held.add(owner)
      },
    })
    const mark = (key === undefined ? undefined : keys.get(String(key))) ?? (held.size === 1 ? [...held][0] : undefined)
    if (mark === undefined || found.has(mark)) continue
    const start = (isPair(item) ? (item.key as Node | null) : body)?.range?.[0] ?? 0
    found.set(mark, {
      mark,
      line: hub.line(start),
      item,
      ...(key !== undefined && { key }),
      read: () => plainValue(body, hub),
    })
  }
  return [...found.values()]
}

function plainValue(body: Node | null, hub: HubFile): ValueMap | undefined {
  let isPlain = true
  const value = readValue(body, hub.document!, () => {
    isPlain = false
  })
  return isPlain && isValueMap(value) ? value : undefined
}

function ownersOf(
  { key, fill }: Profile,
  register: Register,
): { owners: ReadonlyMap<Scalar, string>; keys: ReadonlyMap<string, string> } {
  const owners = new Map<Scalar, string>()
  const keys = new Map<string, string>()
  const all = [...fill.values()].filter(filling => filling !== null)
  const telling = (fields: readonly string[]) =>
    all.filter(filling => fieldsOf(filling).some(each => fields.includes(each)))
  const codes = telling(OWN_FIELDS.filter(field => field !== 'name'))
  // A name tells whose entry it is only where nothing better does.
  const fillings: readonly Filling[] = codes.length || key ? codes : telling(['name'])
  for (const opening of register.openings) {
    for (const wire of WIRES) {
      owners.set(fieldOf(opening, 'topic', register, wire)!, opening.mark)
      const own = key && filled(opening, key, register, wire)
      if (own !== undefined) keys.set(String(own), opening.mark)
      for (const filling of fillings) {
        const text = filled(opening, filling, register, wire)
        if (text !== undefined) owners.set(text, opening.mark)
      }
    }
    owners.set(opening.client, opening.mark)
  }
  return { owners, keys }
}
