import type { Opening, Register } from '../../register/types.ts'
import { shown } from '../../text/problems.ts'
import { scalarsOf } from '../../text/yaml-value.ts'
import type { Wire } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import { type Filling, fillingText } from './filling.ts'
import { type Profile, placesOf } from './profile.ts'

/** Sentences about what an entry lacks that other hubs compare or show. */
export function missing(profile: Profile, opening: Opening, register: Register, written: Wire): string[] {
  const places = placesOf(profile)
  const absent = (['name', 'topic', 'opened', 'rest'] as const).filter(field => !places.has(field))
  if (absent.length === 0) return []
  const list = absent.map(field => `${field} (${shown(fieldOf(opening, field, register, written) ?? '')})`).join(', ')
  return [
    `Not found in the entry for ${opening.mark}: ${list}. What differs from opening to opening must stand in it word for word, or be named with --fill`,
  ]
}

/** What was learned, a line each place; the last line: what stands the same in every entry. */
export function learnedLines({ key, entry, fill }: Profile): string[] {
  const filled = [...fill].filter((pair): pair is [string, Filling] => pair[1] !== null)
  const rows: (readonly [string, Filling])[] = [...(key ? [['key', key] as const] : []), ...filled]
  const width = Math.max(...rows.map(([place]) => place.length))
  const constant = [...scalarsOf(entry)].filter(([pointer]) => !fill.get(pointer)).map(([pointer]) => pointer)
  return [
    ...rows.map(([place, filling]) => `  ${place.padEnd(width)}  ${fillingText(filling)}`),
    ...(constant.length ? [`  the same in every entry: ${constant.join(', ')}`] : []),
  ]
}
