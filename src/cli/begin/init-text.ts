import { alerts as alertsSchema } from '../../register/schema.ts'
import { SENDER_WORDS } from '../../register/sender-rules.ts'
import { brokerOf, isPortableClient } from '../../register/topics.ts'
import { KINDS, type Kind, type Words } from '../../register/types.ts'
import { comment, readable } from '../../text/yaml-text.ts'

/** Kinds of contact that `init` can write; more are written into the register by hand. */
export const CONTACTS = ['coin', 'mains'] as const
export type ContactKind = (typeof CONTACTS)[number]

/** What `init` asks, answered. */
export interface Answers {
  readonly house: string
  readonly timezone: string
  readonly broker: string
  /** Where walls in a browser reach the broker; absent: there are none yet. */
  readonly websocket?: string
  /** Level above the tally's topics. */
  readonly parent: string
  /** The kinds of contact that are built, each with its words. */
  readonly contacts: Readonly<Partial<Record<ContactKind, Words>>>
  /** Absent: nothing is to be told. */
  readonly alerts?: AlertAnswers
  /** Ground floor included. */
  readonly floors: number
  readonly sides: readonly { readonly name: string; readonly floors: readonly FloorAnswer[] }[]
}

export interface AlertAnswers {
  readonly bedtime?: string
  readonly openLongMinutes?: number
  readonly to?: string
}

/** Openings of one floor of one side, from left to right. */
export interface FloorAnswer {
  /** From 0, the ground floor. */
  readonly floor: number
  readonly openings: readonly OpeningAnswer[]
}

export interface OpeningAnswer {
  readonly name: string
  readonly room: string
  readonly kind: Kind
  readonly contact: ContactKind
}

export const isDoor = (kind: Kind): boolean => kind === 'door' || kind === 'double-door'

export const floorName = (floor: number): string => (floor === 0 ? 'ground floor' : `floor ${floor}`)

/** Words that a contact of each kind says where the person has none of their own, in the order of its kind. */
export const USUAL_WORDS: Readonly<Record<ContactKind, Words>> = {
  coin: { opened: 'opened', rest: 'asleep' },
  mains: { opened: 'ajar', closed: 'shut', gone: 'lost' },
}

/** The words of a contact from those that were typed, in the order of its kind. */
export const wordsOf = (contact: ContactKind, typed: readonly string[]): Words => {
  const names = SENDER_WORDS[contact === 'coin' ? 'openings' : 'both']
  return Object.fromEntries(names.map((name, index) => [name, typed[index]])) as unknown as Words
}

const SENDERS: Readonly<Record<ContactKind, string>> = {
  coin: `  # A coin cell, fed by the reed only while it is open. Its rest word says that it fell silent, not that it is shut.
  coin:
    reports: openings
    cell: CR2032
    keepAliveSeconds: 4
    load: cold-join
`,
  mains: `  # On mains, from a closed, approved supply that gives the module 3.3 V; fixed wiring is a licensed person's work, and
  # local codes have the last word. It reports both edges. The word for gone is its last will.
  mains:
    reports: both
    power: mains
`,
}

const mapText = (map: object): string =>
  `{ ${Object.entries(map)
    .map(([key, value]) => `${key}: ${typeof value === 'number' ? value : readable(String(value))}`)
    .join(', ')} }`

/**
 * A commented register from the answers: marks are W01 … for windows and D01 … for doors.
 * @param schema - address of the register's JSON Schema, without a blank; an editor finds it in the first line
 * It parses without an error for any answers that `faultOf` lets through; an address in place of a host name, and a
 * rest word that says closed, are warned of.
 */
export function registerText(
  { house, timezone, broker, websocket, parent, contacts, alerts, floors, sides }: Answers,
  schema: string,
): string {
  const counts = { W: 0, D: 0 }
  const lines: string[] = []
  for (const side of sides) {
    for (const { floor, openings } of side.floors) {
      lines.push(`  # ${comment(side.name)}, ${floorName(floor)}`)
      for (const [index, { name, room, kind, contact }] of openings.entries()) {
        const letter = isDoor(kind) ? 'D' : 'W'
        const mark = `${letter}${String(++counts[letter]).padStart(2, '0')}`
        const along = Math.round(((index + 0.5) / openings.length) * 1000) / 1000
        lines.push(
          `  - { mark: ${mark}, name: ${readable(name)}, room: ${readable(room)}, kind: ${kind}, sender: ${contact},`,
          `      at: { side: ${readable(side.name)}, floor: ${floor}, along: ${along} } }`,
        )
      }
    }
  }
  const senders = Object.entries(contacts).map(
    ([contact, words]) => `${SENDERS[contact as ContactKind]}    words: ${mapText(words)}\n`,
  )
  return `# yaml-language-server: $schema=${schema}
# The register: every opening that has a contact. Everything else is made from it. No password ever stands here.
house: ${readable(house)}
timezone: ${timezone}
# mqtt: the host name of your broker; contacts hold it for years, so no address that may change.${websocket ? ' websocket: for walls.' : '\n# For walls in a browser add websocket here.'}
broker: ${mapText({ mqtt: broker, ...(websocket ? { websocket } : {}) })}
# The tally's own topics; the level above them begins every contact's topic: ${parent}/w01
tally: ${readable(`${parent}/tally`)}
${alerts ? `# What the house wants to be told of; it stands on the topic ${parent}/tally/alert too.\nalerts: ${mapText(alerts)}\n` : ''}# Sides in walking order; 0 is the ground floor. along: 0 is the left end of a side as seen from outside, 1 the right.
sides: [${sides.map(({ name }) => readable(name)).join(', ')}]
floors: ${floors}

# The kinds of contact you have built. The names are yours.
senders:
${senders.join('')}
# Marks stay for good: topic and client id are made from them. Names may change at any time.
# The day on which you fit a cell belongs here too, such as cellFitted: 2026-03-01
openings:
${lines.join('\n')}
`
}

type Fault = (value: string) => string | undefined

/** Text of one line; the joiners that some scripts need inside a word are let through. */
const text =
  (what: string, most: number): Fault =>
  value =>
    value.trim() === '' || value.length > most || /[\p{C}\u2028\u2029]/u.test(value.replace(/[\u200c\u200d]/g, ''))
      ? `${what} is 1 to ${most} characters on one line`
      : undefined

/** The rule of the register that an answer breaks; none where nothing was answered. */
const alert =
  (key: keyof AlertAnswers): Fault =>
  value => {
    const given = key === 'openLongMinutes' ? Number(value) : value
    const { error } = alertsSchema.safeParse(value === '' ? {} : { [key]: given })
    return error?.issues[0]?.message.split('|')[1]
  }

/** Why an answer will not do, undefined when it will. */
export const faultOf = {
  name: text('a name', 100),
  side: text('the name of a side', 40),
  word: text('a word', 128),
  timezone: value => {
    const rule = 'a time zone is a name such as Europe/Lisbon'
    try {
      new Intl.DateTimeFormat('en', { timeZone: value })
      return /^[A-Za-z][A-Za-z0-9_+/-]*$/.test(value) ? undefined : rule
    } catch {
      return rule
    }
  },
  broker: value =>
    /^mqtts?:\/\/[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?(:[1-9]\d{0,4})?$/.test(value) && brokerOf(value)
      ? undefined
      : 'a broker is written mqtt://host or mqtts://host, with :port where it is not the usual one, and no user or password',
  websocket: value =>
    value === NONE || (/^wss?:[\x21-\x7e]{1,300}$/.test(value) && brokerOf(value))
      ? undefined
      : `a wall's address is written ws://host:port or wss://host:port, without user or password; ${NONE} where there is no wall`,
  parent: value =>
    /^[A-Za-z0-9][A-Za-z0-9_-]*(\/[A-Za-z0-9_-]+)*$/.test(value) &&
    value.length <= 60 &&
    isPortableClient(`${value.replace(/[^A-Za-z0-9]/g, '')}W999`)
      ? undefined
      : 'topics begin with letters and digits here, such as house or home/windows, at most 19 of them: client ids are made of them too',
  bedtime: alert('bedtime'),
  openLongMinutes: alert('openLongMinutes'),
  to: alert('to'),
  floors: value => (/^[1-9]$/.test(value) ? undefined : 'floors are a number from 1 to 9'),
  kind: value => ((KINDS as readonly string[]).includes(value) ? undefined : `a kind is one of ${KINDS.join(', ')}`),
  contact: value =>
    (CONTACTS as readonly string[]).includes(value) ? undefined : `a contact is one of ${CONTACTS.join(', ')}`,
} as const satisfies Record<string, Fault>

/** Typed where there is nothing of the kind. */
export const NONE = 'none'
