import { PLAIN_WORDS } from '../../protocol/plain.ts'
import type { Opening, Register } from '../../register/types.ts'
import { shown } from '../../text/problems.ts'
import { scalarsOf } from '../../text/yaml-value.ts'
import { holdsRun, isInQuotes, wholeRuns } from './facts.ts'
import { type Field, WIRES, type Wire } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import { isText } from './filling.ts'
import type { Recipe } from './kept-profile.ts'

/** A place at which the entries would not hold what they should. */
export interface Fault {
  readonly pointer: string
  readonly code: string
  readonly message: string
}

/** How a person settles what stands at a place. */
export function settling(pointer: string, filling: string): string {
  const pair = `${pointer}=${filling}`
  return `settle it with --fill ${/[ '{]/.test(pair) ? `"${pair}"` : pair}, or --fill ${pointer}= to keep it as it is in all`
}

export interface Lenience {
  /** Places that the person settled this time. */
  readonly settled?: ReadonlySet<string> | undefined
  /** Words are looked for everywhere, in text beside fields too; else only where a rule would compare them. */
  readonly everyWord?: boolean | undefined
}

/**
 * Constants of a profile that belong to one opening, or that no topic of this wire ever says: what can be proved
 * without the entry that the profile was learned from.
 */
export function* constantFaults(
  register: Register,
  { profile, wire }: Recipe,
  { settled, everyWord = false }: Lenience = {},
): Generator<Fault & { readonly owner: Opening }> {
  const foreign = foreignWords(register, wire)
  for (const [pointer, value] of scalarsOf(profile.entry)) {
    const filling = profile.fill.get(pointer)
    if (filling === null || settled?.has(pointer)) continue
    const texts = filling ? (everyWord ? filling.filter(isText).map(({ text }) => text) : []) : [String(value)]
    for (const text of texts) {
      const found = typeof value === 'string' ? ownerOf(text, register) : undefined
      if (found)
        yield {
          owner: found.owner,
          pointer,
          code: 'shared',
          message: `${pointer} holds ${shown(text)} in every entry, and that is the ${found.field} of ${found.owner.mark}: ${settling(pointer, found.field)}`,
        }
      for (const [word, owner] of foreign) {
        const places = [...wholeRuns(text, word)]
        const isCompared = text === word || places.some(at => isInQuotes(text, at, word.length))
        if (isCompared || (everyWord && places.length))
          yield {
            owner,
            pointer,
            code: 'never-said',
            message: `${pointer} holds ${shown(text)}, and ${shown(word)} is a word ${wire === 'tally' ? `of ${owner.mark} that the tally's topic never says` : 'of the tally that no contact says'}, so a rule with it would never fire: ${settling(pointer, 'opened')}`,
          }
      }
    }
  }
}

/** Words that the other wire says and this one never does, each with an opening that it is about. */
function foreignWords({ openings }: Register, wire: Wire): Map<string, Opening> {
  const contacts = new Map<string, Opening>()
  const bySender = new Map([...openings].reverse().map(opening => [opening.sender, opening]))
  for (const [{ words }, opening] of bySender)
    for (const word of Object.values(words) as (string | undefined)[])
      if (word !== undefined && !contacts.has(word)) contacts.set(word, opening)
  const plain: readonly string[] = PLAIN_WORDS
  if (wire === 'tally') return new Map([...contacts].filter(([word]) => !plain.includes(word)))
  const [first] = openings
  // "closed" may well stand for something else.
  const never = plain.filter(word => word !== 'closed' && !contacts.has(word))
  return new Map(first ? never.map(word => [word, first]) : [])
}

function ownerOf(text: string, register: Register): { owner: Opening; field: Field } | undefined {
  for (const owner of register.openings) {
    if (text === owner.client) return { owner, field: 'client' }
    for (const wire of WIRES)
      if (holdsRun(text, String(fieldOf(owner, 'topic', register, wire)))) return { owner, field: 'topic' }
  }
  return undefined
}
