import type { Opening, Register } from '../../register/types.ts'
import { pointerUnder } from '../../text/json-pointer.ts'
import { isList, isValueMap, type Scalar, type Value } from '../../text/yaml-value.ts'
import { filled } from './filling.ts'
import type { Recipe } from './kept-profile.ts'

const LEFT = Symbol('left out')
/** Tells of a place that is left out, since the opening lacks a field of what stands there. */
type Lacks = (pointer: string) => void
type Part = (opening: Opening, lacks: Lacks) => Value | typeof LEFT

/** Makes the entry of one opening after the other. */
export function entryMaker(
  { profile, wire }: Recipe,
  register: Pick<Register, 'tally'>,
): (opening: Opening, lacks?: Lacks) => Value {
  const partOf = (held: Value, pointer: string): Part => {
    const filling = profile.fill.get(pointer)
    if (filling)
      return (opening, lacks) => {
        const found = filled(opening, filling, register, wire)
        if (found !== undefined) return found
        lacks(pointer)
        return LEFT
      }
    if (isList(held)) {
      const items = held.map((item, index) => partOf(item, pointerUnder(pointer, index)))
      return (opening, lacks) => items.map(item => item(opening, lacks)).filter(item => item !== LEFT) as Value[]
    }
    if (!isValueMap(held)) return () => held
    const parts = [...held].map(([key, inner]) => [key, partOf(inner, pointerUnder(pointer, key))] as const)
    return (opening, lacks) => {
      const made = new Map<Scalar, Value>()
      for (const [key, part] of parts) {
        const found = part(opening, lacks)
        if (found !== LEFT) made.set(key, found)
      }
      return made
    }
  }
  const entry = partOf(profile.entry, '')
  return (opening, lacks = () => {}) => entry(opening, lacks) as Value
}
