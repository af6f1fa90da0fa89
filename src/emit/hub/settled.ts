import type { Opening, Register } from '../../register/types.ts'
import { shown } from '../../text/problems.ts'
import { isList, isValueMap, type Scalar, scalarsOf, type Value, valueAt } from '../../text/yaml-value.ts'
import { wholeRuns } from './facts.ts'
import type { Field, Wire } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import { type Filling, isText, type Part } from './filling.ts'
import { type Profile, pointerFault } from './profile.ts'

/** What a person settled: JSON Pointers in the entry, or `key`, to what stands there; null keeps the value as it is. */
export type Settled = ReadonlyMap<string, Filling | null>

interface SettledModel {
  readonly opening: Opening
  readonly register: Register
  readonly written: Wire
}

/**
 * What was settled, for each scalar of an entry written by hand. A field alone keeps the text around it;
 * a list or a map that is kept as it is keeps every scalar in it.
 */
export function settledFillings(
  entry: Value,
  asked: Settled,
  { isMap, ...model }: SettledModel & { readonly isMap: boolean },
): {
  readonly fill: ReadonlyMap<string, Filling | null>
  readonly faults: readonly { readonly pointer: string; readonly message: string }[]
  readonly remarks: readonly string[]
  key(name: Scalar): Filling | undefined
} {
  const fill = new Map<string, Filling | null>()
  const faults: { pointer: string; message: string }[] = []
  const remarks: string[] = []
  const settle = (text: Scalar, filling: Filling, where: string): Filling => {
    const [field] = filling
    if (filling.length > 1 || field === undefined || isText(field)) return filling
    const own = fieldOf(model.opening, field, model.register, model.written)
    if (typeof text !== 'string' || text === own) return filling
    const kept = aroundField(text, field, String(own ?? ''))
    if (!kept)
      remarks.push(
        `${where} is ${shown(text)} for ${model.opening.mark}, but its ${field} is ${shown(own ?? 'not given')}: the others get their ${field} as it stands in the register`,
      )
    return kept ?? filling
  }
  for (const [pointer, filling] of asked) {
    if (pointer === 'key') {
      const message = isMap
        ? '--fill key= needs a field or parts: each entry in a map has a key of its own'
        : '--fill key= settles the key of an entry in a map; this entry is an item of a list'
      if (!isMap || filling === null) faults.push({ pointer: '', message })
      continue
    }
    const target = valueAt(entry, pointer)
    const inner = isList(target) || isValueMap(target) ? [...scalarsOf(target, pointer)] : []
    const wrong = pointerFault(pointer, entry)
    if (filling === null && inner.length) for (const [at] of inner) fill.set(at, null)
    else if (wrong) faults.push({ pointer: '', message: `--fill ${pointer}=: ${wrong}` })
    else fill.set(pointer, filling && settle(target as Scalar, filling, pointer))
  }
  const key = asked.get('key')
  return { fill, faults, remarks, key: name => (key ? settle(name, key, 'key') : undefined) }
}

/** The text around a field's value; undefined when the value stands nowhere, or more than once inside of other words. */
function aroundField(text: string, field: Field, own: string): Filling | undefined {
  let places = own === '' ? [] : [...wholeRuns(text, own)]
  if (own !== '' && places.length === 0 && text.split(own).length === 2) places = [text.indexOf(own)]
  if (places.length === 0) return undefined
  const parts: Part[] = []
  let done = 0
  for (const at of places.filter((place, index) => index === 0 || place >= places[index - 1]! + own.length)) {
    if (at > done) parts.push({ text: text.slice(done, at) })
    parts.push(field)
    done = at + own.length
  }
  if (done < text.length) parts.push({ text: text.slice(done) })
  return parts
}

/** A profile with what was settled over it; what it learned from is not known any more. */
export function withSettled(profile: Profile, asked: Settled): { profile?: Profile; faults: readonly string[] } {
  const fill = new Map(profile.fill)
  const faults: string[] = []
  for (const [pointer, filling] of asked) {
    const wrong = pointer === 'key' ? undefined : pointerFault(pointer, profile.entry)
    if (pointer === 'key' && (profile.as === 'list' || filling === null))
      faults.push('--fill key= settles the key of an entry in a map, with a field or parts')
    else if (wrong) faults.push(`--fill ${pointer}=: ${wrong}`)
    else if (filling === null && fill.get(pointer))
      faults.push(
        `--fill ${pointer}=: what stood there in the entry written by hand is not kept in the block: learn it again with --like, or write the profile by hand`,
      )
    else if (pointer !== 'key') fill.set(pointer, filling)
  }
  const key = asked.get('key') ?? profile.key
  return faults.length ? { faults } : { profile: { ...profile, ...(key && { key }), fill }, faults }
}
