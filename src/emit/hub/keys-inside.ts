import type { Opening, Register } from '../../register/types.ts'
import { pointerUnder } from '../../text/json-pointer.ts'
import { shown } from '../../text/problems.ts'
import { isList, isValueMap, scalarsOf, type Value } from '../../text/yaml-value.ts'
import type { Fault } from './constants.ts'
import { holdsRun } from './facts.ts'
import { OWN_FIELDS, WIRES, type Wire, WORD_FIELDS } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import { type Filling, fieldsOf } from './filling.ts'

interface KeysModel {
  readonly opening: Opening
  readonly register: Register
  readonly wire: Wire
  readonly written: Wire
}

/**
 * Keys inside an entry that are the opening's own: a profile fills values, so every opening would share them.
 * A word counts where no value of the entry is that word, so that the key is what the hub compares.
 */
export function* keyFaults(
  entry: Value,
  fill: ReadonlyMap<string, Filling | null>,
  { opening, register, wire, written }: KeysModel,
): Generator<Fault> {
  const own = OWN_FIELDS.flatMap(field =>
    WIRES.map(each => String(fieldOf(opening, field, register, each)).toLowerCase()),
  )
  const filled = new Set([...fill.values()].flatMap(filling => (filling ? fieldsOf(filling) : [])))
  const words = WORD_FIELDS.filter(field => !filled.has(field)).flatMap(field => {
    const word = fieldOf(opening, field, register, written)
    const isShared = register.openings.every(other => fieldOf(other, field, register, wire) === word)
    return word === undefined || isShared ? [] : [String(word)]
  })
  for (const [pointer, name, held] of keysIn(entry, '')) {
    const isOwn = own.some(text => holdsRun(name.toLowerCase(), text))
    const inside = [...scalarsOf(held, pointer)]
    const isKept = inside.length > 0 && inside.every(([at]) => fill.get(at) === null)
    if (!isKept && (isOwn || words.includes(name)))
      yield {
        pointer,
        code: 'key-in-entry',
        message: isOwn
          ? `The key ${shown(name)} inside the entry belongs to ${opening.mark}, and a profile fills values, not keys, so all openings would share it: give the entry another shape if the hub allows, or write these entries by hand`
          : `The key ${shown(name)} inside the entry is a word of ${opening.mark}, which not every entry's topic says, and a profile fills values, not keys: give the entry another shape if the hub allows; where it is no word but the hub's own key, say --fill ${pointer}= to keep what stands under it`,
      }
  }
}

function* keysIn(held: Value, pointer: string): Generator<[pointer: string, name: string, held: Value]> {
  if (isList(held)) for (const [index, item] of held.entries()) yield* keysIn(item, pointerUnder(pointer, index))
  if (!isValueMap(held)) return
  for (const [key, inner] of held) {
    const at = pointerUnder(pointer, key)
    yield [at, String(key), inner]
    yield* keysIn(inner, at)
  }
}
