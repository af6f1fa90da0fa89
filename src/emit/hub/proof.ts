import type { Opening, Register } from '../../register/types.ts'
import { shown } from '../../text/problems.ts'
import { type Scalar, scalarsOf } from '../../text/yaml-value.ts'
import { type Fault, settling } from './constants.ts'
import { entryMaker } from './entry-maker.ts'
import { holdsRun, wholeRuns } from './facts.ts'
import { type Field, OWN_FIELDS, WIRES, type Wire, WORD_FIELDS } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import { type Filling, fillingText, isText, type Part, piecesOf } from './filling.ts'
import type { Recipe } from './kept-profile.ts'

/** The opening whose entry was written by hand, and how. */
export interface HandWritten {
  readonly opening: Opening
  readonly written: Wire
}

/**
 * What a learned profile gets wrong: the model's own entry must come back as data, and no text of another opening's
 * entry may still hold what is the model's own, be it in other letters, or a word that another contact does not send.
 * @param settled - places that the person settled: what stands there is what was asked for
 */
export function* modelFaults(
  register: Register,
  { opening: model, written }: HandWritten,
  { profile, wire }: Recipe,
  settled: ReadonlySet<string>,
): Generator<Fault> {
  const back = new Map(scalarsOf(entryMaker({ profile, wire: written }, register)(model)))
  const others = register.openings.filter(opening => opening !== model)
  const own = ownTexts(model, register)
  const words = WORD_FIELDS.flatMap(field => {
    const text = fieldOf(model, field, register, written)
    const other = others.find(opening => fieldOf(opening, field, register, wire) !== text)
    return text !== undefined && (other || written !== wire) ? [{ field, text: String(text) }] : []
  })
  for (const [pointer, value] of scalarsOf(profile.entry)) {
    if (settled.has(pointer)) continue
    if (!Object.is(back.get(pointer), value))
      yield {
        pointer,
        code: 'not-given-back',
        message: `${pointer} is ${shown(value)} in the entry for ${model.mark}, and the profile would make ${shown(back.get(pointer) ?? null)} of it: settle it with --fill ${pointer}=`,
      }
    const filling = profile.fill.get(pointer)
    if (filling === null) continue
    if (!filling) yield* leftIn(pointer, value)
    else if (filling.length > 1) yield* leftInParts(pointer, filling)
  }

  function* leftIn(pointer: string, value: Scalar): Generator<Fault> {
    const text = String(value)
    const found = own.find(fact => typeof value === 'string' && loosely(text, fact).length > 0)
    if (found) yield { pointer, code: 'contains', message: stillHolds(pointer, text, found) }
    else {
      const word = words.find(fact => (typeof value === 'string' ? holdsRun(text, fact.text) : text === fact.text))
      if (word) yield { pointer, code: 'contains', message: stillHolds(pointer, text, word) }
    }
  }

  function* leftInParts(pointer: string, filling: Filling): Generator<Fault> {
    for (const other of others) {
      const pieces = piecesOf(other, filling, register, wire)?.map(String)
      if (!pieces) continue
      const text = pieces.join('')
      const found = [...own, ...words].find(fact => {
        const places = words.includes(fact as never) ? [...wholeRuns(text, fact.text)] : loosely(text, fact)
        return places.some(at => !isInField(at, at + fact.text.length, filling, pieces))
      })
      if (!found) continue
      yield { pointer, code: 'contains', message: stillHolds(pointer, text, found, other) }
      return
    }
  }

  function stillHolds(pointer: string, text: string, fact: Own, other?: Opening): string {
    const whose = `the ${fact.field} of ${model.mark} (${shown(fact.text)})`
    const inAll = other ? `${shown(text)} for ${other.mark}` : `${shown(text)} in every entry`
    const filling = profile.fill.get(pointer) ?? [{ text }]
    return `${pointer} would be ${inAll}, which still holds ${whose}: ${settling(pointer, suggestion(filling, fact))}`
  }
}

interface Own {
  readonly field: Field
  readonly text: string
}

function ownTexts(model: Opening, register: Register): Own[] {
  const texts = OWN_FIELDS.flatMap(field =>
    [...new Set(WIRES.map(wire => String(fieldOf(model, field, register, wire))))].map(text => ({ field, text })),
  )
  return texts.filter(({ text }) => text !== '').sort((one, other) => other.text.length - one.text.length)
}

/** Where a text holds what is the model's own, whatever the case: codes anywhere, names and short codes as whole runs. */
function loosely(text: string, { field, text: fact }: Own): number[] {
  const [low, wanted] = [lowered(text), lowered(fact)]
  if (field === 'name' || fact.length < 3 || /^\d+$/.test(fact)) return [...wholeRuns(low, wanted)]
  const found: number[] = []
  for (let at = low.indexOf(wanted); at >= 0; at = low.indexOf(wanted, at + 1)) found.push(at)
  return found
}

/** In lower case, of the same length. */
const lowered = (text: string): string =>
  text.replace(/\p{Lu}/gu, letter => (letter.toLowerCase().length === letter.length ? letter.toLowerCase() : letter))

/** True when a stretch of the made text is inside what one field gave. */
function isInField(from: number, to: number, filling: Filling, pieces: readonly string[]): boolean {
  let start = 0
  for (const [index, piece] of pieces.entries()) {
    const end = start + piece.length
    if (from >= start && to <= end) return !isText(filling[index]!)
    start = end
  }
  return false
}

/** A filling that takes the field wherever its texts hold the fact. */
function suggestion(filling: Filling, fact: Own): string {
  const parts = filling.flatMap((part): readonly Part[] => {
    const at = isText(part) ? loosely(part.text, fact)[0] : undefined
    if (at === undefined || !isText(part)) return [part]
    return [{ text: part.text.slice(0, at) }, fact.field, { text: part.text.slice(at + fact.text.length) }]
  })
  return fillingText(parts.filter(part => !isText(part) || part.text !== ''))
}
