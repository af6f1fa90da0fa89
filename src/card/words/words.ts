/** Every sentence on the sheet. `{name}` in a message is filled in; its plural form goes by `n`. */
import { de } from './de.ts'
import { en, type Key } from './en.ts'
import { late } from './late.ts'
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
  const lang = wished.find(tag => tag && (made.has(tag) || (isKnown(languageOf(tag)) && isTag(tag)))) ?? 'en'
  let words = made.get(lang)
  if (!words) {
    words = make(lang)
    made.set(lang, words)
  }
  return words
}

const languageOf = (tag: string): string => tag.toLowerCase().split('-')[0] ?? ''

const isKnown = (lang: string): boolean => Object.hasOwn(TABLES, lang)

function isTag(tag: string): boolean {
  if (isKnown(tag)) return true
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

/**
 * English and German know two plural forms, the first for 1 alone.
 * @see Unicode CLDR, plural rules, cardinals of en and de
 */
function make(lang: string): Words {
  const table = TABLES[languageOf(lang)] ?? en
  const numbers = late(() => new Intl.NumberFormat(lang))
  const tellNumber = (value: number) =>
    value >= 0 && value < 1000 && Number.isInteger(value) ? String(value) : numbers().format(value)
  const pieces: Words['pieces'] = (key, fill = {}) => {
    const message: Message = table[key]
    const form = typeof message === 'string' ? message : message[Number(fill.n) === 1 ? 'one' : 'other']
    return cut(form)
      .map((part, index) => {
        const value = index % 2 ? (fill[part] ?? '') : part
        return { text: typeof value === 'number' ? tellNumber(value) : value, blank: index % 2 > 0 }
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
