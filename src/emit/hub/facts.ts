import type { Opening, Register } from '../../register/types.ts'
import { type Field, TEXT_FIELDS, type Wire, WORD_FIELDS } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import type { Filling, Part } from './filling.ts'

/** What the register says of one opening, as text. */
export interface Fact {
  readonly field: Field
  readonly text: string
}

/** Texts of an opening, the longest first; equal ones in the order of the fields. */
export function factsOf(opening: Opening, register: Pick<Register, 'tally'>, wire: Wire): Fact[] {
  const facts = TEXT_FIELDS.flatMap(field => {
    const text = fieldOf(opening, field, register, wire)
    return text === undefined || text === '' ? [] : [{ field, text: String(text) }]
  })
  return facts.sort((one, other) => other.text.length - one.text.length)
}

const isWord = (field: Field): boolean => (WORD_FIELDS as readonly Field[]).includes(field)

const RUN_BEFORE = /[\p{L}\p{M}\p{N}]$/u
const RUN_AFTER = /^[\p{L}\p{M}\p{N}]/u

/** Offsets at which `part` stands in `text`, neither cutting a run of letters and digits at its beginning nor at its end. */
export function* wholeRuns(text: string, part: string): Generator<number> {
  if (part === '' || !text.includes(part)) return
  const [startsInRun, endsInRun] = [RUN_AFTER.test(part), RUN_BEFORE.test(part)]
  for (let at = text.indexOf(part); at >= 0; at = text.indexOf(part, at + 1)) {
    const end = at + part.length
    const cutsBefore = startsInRun && RUN_BEFORE.test(text.slice(Math.max(0, at - 2), at))
    const cutsAfter = endsInRun && RUN_AFTER.test(text.slice(end, end + 2))
    if (!cutsBefore && !cutsAfter) yield at
  }
}

export const holdsRun = (text: string, part: string): boolean => !wholeRuns(text, part).next().done

const QUOTES = ['""', "''", '``', '“”', '‘’', '«»', '„“', '‚‘', '「」']
/** True when quotes stand right around a part of a text. */
export const isInQuotes = (text: string, at: number, length: number): boolean =>
  at > 0 && QUOTES.includes(`${text[at - 1]}${text[at + length] ?? ''}`)

/**
 * Parts of a text that holds facts: the longest fact first, only whole runs of letters and digits, and a word of the
 * contact only beside the topic or the mark in the same text or between quotes, since it may be any word elsewhere.
 * @returns undefined when the text holds no fact
 */
export function partsOf(text: string, facts: readonly Fact[]): Filling | undefined {
  const others = split(text, facts, ({ field }) => !isWord(field))
  const besideOwn = others.includes('topic') || others.includes('mark')
  const parts = split(
    text,
    facts,
    ({ field }, at, length) => !isWord(field) || besideOwn || isInQuotes(text, at, length),
  )
  return parts.some(part => typeof part === 'string') ? parts : undefined
}

function split(
  text: string,
  facts: readonly Fact[],
  isTaken: (fact: Fact, at: number, length: number) => boolean,
): Part[] {
  const found: { readonly at: number; readonly end: number; readonly field: Field }[] = []
  for (const fact of facts) {
    const { length } = fact.text
    for (const at of wholeRuns(text, fact.text)) {
      const isFree = found.every(other => at + length <= other.at || at >= other.end)
      if (isFree && isTaken(fact, at, length)) found.push({ at, end: at + length, field: fact.field })
    }
  }
  found.sort((one, other) => one.at - other.at)
  const parts: Part[] = []
  let done = 0
  for (const { at, end, field } of found) {
    if (at > done) parts.push({ text: text.slice(done, at) })
    parts.push(field)
    done = end
  }
  if (done < text.length) parts.push({ text: text.slice(done) })
  return parts
}
