/** The tally's own topics and what stands on them. Pure: card, keeper and command line share it. */
import { isSurelyShut } from '../ledger/headline.ts'
import type { Policy, Reading, What } from '../ledger/types.ts'

/** Topic names under the register's `tally` prefix; all JSON except `plain`. */
export interface TallyTopics {
  /** Retained: what a wall needs to know of the house. */
  readonly register: string
  /** Retained: the keeper's state with its beat; the keeper's will stands here too. */
  readonly keeper: string
  /** Retained: the reading of one opening. */
  opening(mark: string): string
  /** Retained text for hubs: one of `PLAIN_WORDS`. */
  plain(mark: string): string
  /** Not retained: the keeper's own marker and challenge. */
  echo(id: string): string
  /** Not retained: what a person says of one opening. */
  say(mark: string): string
  /** Not retained: the keeper's answer to a say. */
  heard(id: string): string
  /** Every opening, echo, say or answer, as topic filters. */
  readonly filters: {
    readonly openings: string
    readonly echoes: string
    readonly says: string
    readonly answers: string
  }
}

export function tallyTopics(tally: string): TallyTopics {
  return {
    register: `${tally}/register`,
    keeper: `${tally}/keeper`,
    opening: mark => `${tally}/opening/${mark}`,
    plain: mark => `${tally}/plain/${mark}`,
    echo: id => `${tally}/keeper/echo/${id}`,
    say: mark => `${tally}/say/${mark}`,
    heard: id => `${tally}/heard/${id}`,
    filters: {
      openings: `${tally}/opening/+`,
      echoes: `${tally}/keeper/echo/+`,
      says: `${tally}/say/+`,
      answers: `${tally}/heard/+`,
    },
  }
}

export type TallyPlace =
  | { readonly kind: 'register' | 'keeper' }
  | { readonly kind: 'opening' | 'plain' | 'say'; readonly mark: string }
  | { readonly kind: 'echo' | 'heard'; readonly id: string }

export const MARK = /^[A-Za-z0-9][A-Za-z0-9-]{0,15}$/
export const SAY_ID = /^[0-9A-Za-z-]{1,36}$/

/** Which of the tally's topics this is; undefined for any other topic, or when its mark or id is malformed. */
export function tallyPlace(tally: string, topic: string): TallyPlace | undefined {
  if (!topic.startsWith(`${tally}/`)) return undefined
  const levels = topic.slice(tally.length + 1).split('/')
  const [first, last] = [levels.slice(0, -1).join('/'), levels.at(-1) ?? '']
  if (first === '') return last === 'register' || last === 'keeper' ? { kind: last } : undefined
  if (first === 'opening' || first === 'plain' || first === 'say') {
    return MARK.test(last) ? { kind: first, mark: last } : undefined
  }
  if (first === 'keeper/echo' || first === 'heard') {
    return SAY_ID.test(last) ? { kind: first === 'heard' ? 'heard' : 'echo', id: last } : undefined
  }
  return undefined
}

/** A reading as published, with the opening's name. */
export interface ReadingNote extends Reading {
  readonly v: 1
  readonly name: string
}

export interface RegisterNoteOpening {
  readonly mark: string
  readonly name: string
  readonly room?: string
  readonly kind: string
  readonly at?: { readonly side: string; readonly floor: number; readonly along?: number }
  readonly reports: 'openings' | 'both'
  readonly cell?: string
  readonly policy: Policy
}

/** The register as a wall may see it: nothing of topics, client ids, broker, Wi-Fi or prices. */
export interface RegisterNote {
  readonly v: 1
  readonly house: string
  readonly timezone: string
  readonly sides: readonly string[]
  readonly floors: number
  readonly roof: string
  readonly openings: readonly RegisterNoteOpening[]
}

/** State of the keeper; times are ISO 8601 UTC with milliseconds. */
export interface KeeperNote {
  readonly v: 1
  readonly state: 'live' | 'gone' | 'broken'
  /** The keeper's clock at its last beat. */
  readonly beat: string
  /** Start of the present state. */
  readonly since: string
  readonly problem?: string
}

/** What may be said by a person; a contact's words cannot. */
export const SAYABLE = [
  'seen-closed',
  'cell-fitted',
  'module-fitted',
  'flashed',
  'proved',
  'failed',
  'round',
  'note',
  'undone',
] as const satisfies readonly What[]
export type Sayable = (typeof SAYABLE)[number]

export interface Say {
  readonly v: 1
  /** Chosen by the sender, `[0-9A-Za-z-]{1,36}`; the answer comes to `heard/<id>`, and the same id twice counts once. */
  readonly id: string
  readonly what: Sayable
  /** When it was so; absent: now. */
  readonly at?: string
  readonly by?: string
  readonly note?: string
  readonly cell?: { readonly type: string; readonly batch?: string; readonly millivolts?: number }
  readonly undoes?: string
  readonly revision?: string
  /** Of a proved or failed say: first word after the key press, so that forecasts learn from a bench beside a keeper. */
  readonly joinMilliseconds?: number
}

/** The keeper's answer to a say. */
export interface HeardNote {
  readonly v: 1
  readonly ok: boolean
  readonly problem?: string
}

export const PLAIN_WORDS = ['may-be-open', 'closed', 'unknown'] as const
export type PlainWord = (typeof PLAIN_WORDS)[number]

/** The one word that a hub may believe: `closed` only when that is known. */
export function plainWord(reading: Pick<Reading, 'position' | 'doubts' | 'unheard'>): PlainWord {
  if (reading.position === 'open' || reading.position === 'opened') return 'may-be-open'
  return isSurelyShut(reading) ? 'closed' : 'unknown'
}
