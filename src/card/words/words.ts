/** Every sentence on the sheet. `{name}` in a message is filled in; plural forms follow Intl by `n`. */
import { de } from './de.ts'
import { en, type Key } from './en.ts'
import type { Message } from './message.ts'

export type Fill = Readonly<Record<string, string | number>>

export interface Words {
  /** The whole tag, for Intl: `en-GB`, `de`. */
  readonly lang: string
  /** A sentence with its blanks filled in. */
  say(key: Key, fill?: Fill): string
  /** The sentence with its blanks, for a drawing that fills them itself. */
  raw(key: Key): string
  /** The same in pieces, so that one blank can be set in other type. */
  pieces(key: Key, fill?: Fill): readonly { readonly text: string; readonly blank: boolean }[]
}

const TABLES: Readonly<Record<string, Readonly<Record<Key, Message>>>> = { en, de }
const made = new Map<string, Words>()

/** The first of the wished tags whose language is known here and whose tag Intl knows; else English. */
export function wordsFor(wished: readonly (string | null | undefined)[]): Words {
  const lang = wished.find(tag => tag && (made.has(tag) || (isTag(tag) && languageOf(tag) in TABLES))) ?? 'en'
  let words = made.get(lang)
  if (!words) {
    words = make(lang)
    made.set(lang, words)
  }
  return words
}

const languageOf = (tag: string): string => tag.toLowerCase().split('-')[0] ?? ''

function isTag(tag: string): boolean {
  try {
    return Intl.getCanonicalLocales(tag).length === 1
  } catch {
    return false
  }
}

const cuts = new Map<string, readonly string[]>()

/** A message in pieces, of which every other one names a blank. */
function cut(message: string): readonly string[] {
  const known = cuts.get(message) ?? message.split(/\{(\w+)\}/)
  cuts.set(message, known)
  return known
}

function make(lang: string): Words {
  const table = TABLES[languageOf(lang)] ?? en
  const plural = new Intl.PluralRules(lang)
  const numbers = new Intl.NumberFormat(lang)
  const pieces: Words['pieces'] = (key, fill = {}) => {
    const message: Message = table[key]
    const form = typeof message === 'string' ? message : message[pluralOf(plural, Number(fill.n))]
    return cut(form)
      .map((part, index) => {
        const value = index % 2 ? (fill[part] ?? '') : part
        return { text: typeof value === 'number' ? numbers.format(value) : value, blank: index % 2 > 0 }
      })
      .filter(({ text, blank }) => blank || text)
  }
  return {
    lang,
    pieces,
    raw: key => {
      const message: Message = table[key]
      return typeof message === 'string' ? message : message.other
    },
    say(key, fill) {
      const message: Message = table[key]
      if (!fill && typeof message === 'string') return message
      return pieces(key, fill)
        .map(piece => piece.text)
        .join('')
    },
  }
}

const pluralOf = (rules: Intl.PluralRules, n: number): 'one' | 'other' => (rules.select(n) === 'one' ? 'one' : 'other')
