import type { Opening, Register } from '../../register/types.ts'
import { nearest } from '../../text/nearest.ts'
import { shown } from '../../text/problems.ts'
import { quoted } from '../../text/yaml-text.ts'
import { isList, isValueMap, type Scalar, type Value } from '../../text/yaml-value.ts'
import { FIELDS, type Field, isField, type Wire } from './field-names.ts'
import { fieldOf } from './field-values.ts'

/** A field's value, or text that stands in every entry. */
export type Part = Field | { readonly text: string }
/** What stands at one place of an entry: its parts, one after the other; at least one of them is a field. */
export type Filling = readonly Part[]

export const isText = (part: Part): part is { readonly text: string } => typeof part !== 'string'

/** Fields of a filling, in order. */
export const fieldsOf = (filling: Filling): Field[] => filling.filter(part => !isText(part)) as Field[]

/** The value of each part for one opening; undefined when the opening lacks one of the fields. */
export function piecesOf(
  opening: Opening,
  filling: Filling,
  register: Pick<Register, 'tally'>,
  wire: Wire,
): (string | number)[] | undefined {
  const pieces: (string | number)[] = []
  for (const part of filling) {
    const piece = isText(part) ? part.text : fieldOf(opening, part, register, wire)
    if (piece === undefined) return undefined
    pieces.push(piece)
  }
  return pieces
}

/** What a filling makes of one opening: a number stays one unless it is part of a text. */
export function filled(
  opening: Opening,
  filling: Filling,
  register: Pick<Register, 'tally'>,
  wire: Wire,
): Scalar | undefined {
  const [first] = filling
  if (filling.length === 1 && typeof first === 'string') return fieldOf(opening, first, register, wire)
  return piecesOf(opening, filling, register, wire)?.join('')
}

/** A filling as a profile writes it: a field's name, or a list of parts. */
export const fillingValue = (filling: Filling): Value =>
  filling.length === 1 && !isText(filling[0]!)
    ? filling[0]!
    : filling.map(part => (isText(part) ? new Map([['text', part.text]]) : part))

/** A filling in one line, as it is written on the command line. */
export function fillingText(filling: Filling): string {
  const [first] = filling
  if (filling.length === 1 && first !== undefined && !isText(first)) return first
  const inQuotes = (text: string) => (/\p{C}/u.test(text) ? quoted(text) : `'${text.replaceAll("'", "''")}'`)
  return `[${filling.map(part => (isText(part) ? `{ text: ${inQuotes(part.text)} }` : part)).join(', ')}]`
}

/** Reads what a profile, or the command line, says of one place; `faults` are sentences about what is wrong with it. */
export function readFilling(held: Value): { filling?: Filling; faults: readonly { code: string; message: string }[] } {
  const faults: { code: string; message: string }[] = []
  const parts: Part[] = []
  for (const part of isList(held) ? held : [held]) {
    const text = isValueMap(part) && part.size === 1 ? part.get('text') : undefined
    if (isField(part)) parts.push(part)
    else if (typeof text === 'string' && isList(held)) parts.push({ text })
    else if (isList(part) || isValueMap(part)) {
      faults.push({
        code: 'part',
        message: `What stands at a place is a field, or a list of parts, each a field or { text: '…' }, such as [{ text: 'mqtt:' }, topic]; here is ${isValueMap(part) ? `a map with ${[...part.keys()].map(shown).join(', ') || 'no key'}` : 'a list'}`,
      })
    } else {
      const near = typeof part === 'string' ? nearest(part, FIELDS) : undefined
      faults.push({
        code: 'field',
        message: `A field is one of ${FIELDS.join(', ')}; here is ${shown(part)}${near ? `; did you mean ${near}?` : ''}`,
      })
    }
  }
  if (faults.length === 0 && fieldsOf(parts).length === 0) {
    faults.push({
      code: 'part',
      message:
        'A list of parts has at least one field, since all openings would share it otherwise: write the text into the entry, and nothing here',
    })
  }
  return faults.length ? { faults } : { filling: parts, faults }
}
