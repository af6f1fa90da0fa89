import type { Entry } from '../protocol/entry.ts'
import type { Heard } from '../protocol/feed.ts'
import { type Figures, figuresSchema } from '../protocol/figures.ts'
import { fitting } from '../protocol/fitting.ts'
import { CONTACT_WORDS, type What } from '../protocol/whats.ts'
import { valueAtPointer } from '../text/json-pointer.ts'
import { parseJson } from '../text/parse-json.ts'
import { utf8Text } from '../text/utf8.ts'
import { ODD_TEXT, tidy } from './fold.ts'

/** What is listened for on one topic. */
export interface Ear {
  readonly mark: string
  readonly words: { readonly opened: string; readonly rest?: string; readonly closed?: string; readonly gone?: string }
  /** JSON Pointers into its payload. */
  readonly json?: { readonly word: string } & { readonly [Figure in keyof Figures]?: string }
}
/** Ears by topic. */
export type Ears = ReadonlyMap<string, Ear>

/** When a message came, and whether it had waited at the broker. */
export interface Hearing {
  readonly id: string
  /** ISO 8601; of a queued message the earliest time at which it can have happened. */
  readonly at: string
  readonly until?: string
  readonly queued?: boolean
  /** Seconds the link had been live without a gap. */
  readonly linkLiveSeconds?: number
  /** The message may be a second delivery. */
  readonly maybeAgain?: true
}

/** A payload larger than this is odd, whatever it says. */
const LARGEST_PAYLOAD = 65_536

/**
 * Turns a message into an entry: one of the contact's words, or `odd` with its capped text.
 * @returns undefined when the topic is nobody's
 * @example
 * import { earsOf, entryOfMessage, parseRegister } from 'sashtally'
 * const { register } = parseRegister(`
 * house: Ropewalk Studios
 * timezone: Europe/Lisbon
 * broker: { mqtt: 'mqtt://127.0.0.1:1883' }
 * tally: ropewalk/tally
 * senders:
 *   coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
 * openings: [{ mark: W01, name: Rope loft, sender: coin }]
 * `)
 * const payload = new TextEncoder().encode('opened')
 * const entry = entryOfMessage(
 *   earsOf(register!),
 *   { topic: 'ropewalk/w01', payload, qos: 1, retain: false, dup: false },
 *   { id: 'a', at: '2026-03-01T18:00:00.000Z' },
 * )
 * console.log(entry?.mark, entry?.what) // W01 opened
 */
export function hear(ears: Ears, heard: Heard, hearing: Hearing): Entry | undefined {
  const ear = ears.get(heard.topic)
  if (!ear) return undefined
  const tooLarge = heard.payload.length > LARGEST_PAYLOAD
  const text = utf8Text(heard.payload, tooLarge ? ODD_TEXT : LARGEST_PAYLOAD)
  const said = tooLarge ? undefined : understand(ear, text)
  const how = heard.retain ? 'retained' : hearing.queued ? 'queued' : 'live'
  return tidy<Entry>({
    id: hearing.id,
    at: hearing.at,
    until: how === 'queued' ? hearing.until : undefined,
    mark: ear.mark,
    what: said?.what ?? 'odd',
    how,
    boots: said?.boots,
    maybeAgain: how === 'retained' ? undefined : hearing.maybeAgain,
    millivolts: said?.millivolts,
    revision: said?.revision,
    joinMilliseconds: how === 'retained' ? undefined : said?.joinMilliseconds,
    text: said ? undefined : text.slice(0, ODD_TEXT),
    linkLiveSeconds: said?.what === 'rest' && how === 'live' ? hearing.linkLiveSeconds : undefined,
  })
}

interface Understood extends Figures {
  readonly what: What
}

function understand({ words, json }: Ear, text: string): Understood | undefined {
  const plain = whatOf(words, text)
  if (plain || !json) return plain && { what: plain }
  const value = parseJson(text)
  const what = whatOf(words, asText(valueAtPointer(value, json.word)))
  if (!what) return undefined
  const at = (pointer: string | undefined): unknown =>
    pointer === undefined ? undefined : valueAtPointer(value, pointer)
  const found = tidy<{ readonly [Figure in keyof Figures]?: unknown }>({
    boots: at(json.boots),
    millivolts: at(json.millivolts),
    revision: at(json.revision),
    joinMilliseconds: at(json.joinMilliseconds),
  })
  return { what, ...fitting(figuresSchema, found) }
}

const asText = (value: unknown): string | undefined =>
  typeof value === 'string' || typeof value === 'number' || typeof value === 'boolean' ? String(value) : undefined

function whatOf(words: Ear['words'], text: string | undefined): What | undefined {
  if (text === undefined) return undefined
  return CONTACT_WORDS.find(what => words[what] === text)
}
