import { isMap, isPair, isScalar, type Node, visit } from 'yaml'
import type { Register } from '../../register/types.ts'
import { fieldOf, filled, WIRES } from './fields.ts'
import type { HubFile } from './hub-file.ts'
import { findPlace } from './place.ts'
import type { Profile } from './profile.ts'
import type { Scalar } from './value.ts'

/**
 * Openings whose entry the person keeps by hand at the profile's place, outside our markers.
 * An entry is an opening's when it has its key, or holds its topic or its client id, or its mark where
 * the profile puts the mark, and no other opening's.
 * @returns marks, each with the line of its entry
 */
export function standing(hub: HubFile, profile: Profile, register: Register): ReadonlyMap<string, number> {
  const { place } = findPlace(hub, profile.place, profile.as)
  const found = new Map<string, number>()
  if (!place?.entries) return found
  const owners = new Map<Scalar, string>()
  const keys = new Map<string, string>()
  const marks = [...profile.fill.values()].filter(({ field }) => field === 'mark')
  for (const opening of register.openings) {
    for (const wire of WIRES) {
      owners.set(fieldOf(opening, 'topic', register, wire)!, opening.mark)
      const key = profile.key && filled(opening, profile.key, register, wire)
      if (key !== undefined) keys.set(String(key), opening.mark)
    }
    owners.set(opening.client, opening.mark)
    for (const filling of marks) owners.set(filled(opening, filling, register, 'contact')!, opening.mark)
  }
  for (const item of place.entries.items) {
    const key = isPair(item) && isScalar(item.key) ? keys.get(String(item.key.value)) : undefined
    const held = new Set<string>()
    const body = (isPair(item) ? item.value : item) as Node | null
    visit(body, {
      Scalar(_key, scalar) {
        const owner = owners.get(scalar.value as Scalar)
        if (owner !== undefined) held.add(owner)
      },
    })
    const mark = key ?? (held.size === 1 ? [...held][0] : undefined)
    const start = (isPair(item) ? (item.key as Node | null) : isMap(item) ? item : body)?.range?.[0]
    if (mark !== undefined && !found.has(mark)) found.set(mark, hub.line(start ?? 0))
  }
  return found
}
