import type { Problem } from '../text/problem.ts'

/**
 * The register after parsing: every default resolved, every name derived.
 * All values here are plain JSON; nothing refers back to the file.
 */

/** The identity of an opening, in the register and in topics. */
export const MARK = /^[A-Za-z0-9][A-Za-z0-9-]{0,15}$/

export const KINDS = ['window', 'sash', 'casement', 'sliding', 'door', 'double-door', 'hatch'] as const
/** What an opening is; a door and a hatch open otherwise than a window. */
export type Kind = (typeof KINDS)[number]

export const ROOFS = ['gable', 'hip', 'flat'] as const
/** What the roof over a side looks like. */
export type Roof = (typeof ROOFS)[number]

/** What a kind of contact reports: `openings` only, or `both` edges. */
export type Reports = 'openings' | 'both'

/** A current for a time; a burst replaces the current while it lasts, the first at the phase's start. */
export interface Phase {
  readonly name?: string
  readonly milliamps: number
  readonly milliseconds: number
  readonly burst?: { readonly milliamps: number; readonly milliseconds: number; readonly everyMilliseconds: number }
}

export const BUILT_IN_LOADS = ['cold-join', 'cached-join', 'fast-join'] as const
export type LoadName = (typeof BUILT_IN_LOADS)[number]

/** Cells that the budget has figures for. */
export const BUILT_IN_CELLS = ['CR2032', 'CR2450', 'CR2477', 'CR123A', 'two FR03', 'two LR03'] as const

/** Keys that may stand on the house, a sender or an opening; the nearest wins. */
export interface Settings {
  readonly provenWithinDays: number
  readonly replaceBelow: number
  readonly takeAsClosedAfterMinutes: number | null
  readonly bounceSeconds: number
  readonly openingsPerYear?: number
  /** Minutes an opening stays open. */
  readonly openMinutes?: number
  readonly temperatureCelsius?: number
  /** Degrees at the contact in the middle of January and of July; it takes the place of `temperatureCelsius`. */
  readonly seasonCelsius?: { readonly january: number; readonly july: number }
  readonly lampMilliamps?: number
  readonly resetVolts?: number
  readonly repeatSeconds?: number
}

/** Words of a contact. `openings`: opened and rest; `both`: opened, closed and gone. */
export interface Words {
  readonly opened: string
  readonly rest?: string
  readonly closed?: string
  readonly gone?: string
}

/** JSON Pointers (RFC 6901) into a JSON payload; `millivolts` are the lowest under load. */
export interface JsonPointers {
  readonly word: string
  readonly millivolts?: string
  readonly boots?: string
  readonly revision?: string
  /** Milliseconds from the contact's start until its word was ready to be sent. */
  readonly joinMilliseconds?: string
}

/** What a contact needs to join fast: the network's name, channel and access point, never its password. */
export interface Wifi {
  /** The network's name (SSID), 1 to 32 bytes; its password never stands in a register. */
  readonly name?: string
  readonly channel?: number
  readonly bssid?: string
  readonly address?: string
}

/** A kind of contact that somebody builds: power, words, load. */
export interface Sender {
  readonly name: string
  readonly reports: Reports
  readonly power: 'cell' | 'mains'
  /** Cell type, e.g. `CR2032`; absent on mains. */
  readonly cell?: string
  readonly words: Words
  readonly keepAliveSeconds: number
  readonly qos: 0 | 1 | 2
  /** A built-in load's name or phases; absent on mains. */
  readonly load?: LoadName | readonly Phase[]
  /** Power to message, seconds: the sum of the load's phases, 0 on mains. */
  readonly bootSeconds: number
  readonly json?: JsonPointers
  readonly wifi?: Wifi
}

/** Where an opening is seen from outside: side, floor, and its place along the side. */
export interface Place {
  readonly side: string
  /** 0 is the ground floor. */
  readonly floor: number
  /** Position along the side seen from outside, 0 (left) to 1 (right). */
  readonly along?: number
}

/** One opening of the house with its contact, every default filled in. */
export interface Opening {
  readonly mark: string
  readonly name: string
  readonly room?: string
  readonly kind: Kind
  readonly sender: Sender
  readonly topic: string
  readonly topicDerived: boolean
  readonly client: string
  readonly clientDerived: boolean
  readonly at?: Place
  /** ISO date, as written: seeds the age of the first cell only. */
  readonly cellFitted?: string
  /** Earlier marks whose history belongs to this opening. */
  readonly was: readonly string[]
  readonly settings: Settings
  /** `wifi` of the opening over that of its sender over the house's, key by key. */
  readonly wifi?: Wifi
  /** First 8 hex digits of SHA-256 over the canonical JSON of the facts in its firmware header. */
  readonly revision: string
  /** Line of the opening in the file, from 1: for messages only. */
  readonly line: number
}

/** What the house asks to be told of; that it is asked for at all tells of cells, silence and what went unheard. */
export interface AlertSettings {
  /** Time of day by the house's clocks, `22:30`. */
  readonly bedtime?: string
  readonly openLongMinutes?: number
  /** Address that takes alerts as CloudEvents over HTTP, beside their topic. */
  readonly to?: string
}

/** Where the house's broker is. */
export interface BrokerAddresses {
  readonly mqtt?: string
  /** Where the broker is a cluster: `mqtt` of its further nodes, in the order in which they are tried. */
  readonly mqttNext?: readonly string[]
  readonly websocket?: string
  readonly websocketNext?: readonly string[]
}

/** A house as its register tells of it, every default filled in. */
export interface Register {
  readonly house: string
  /** IANA time zone name. */
  readonly timezone: string
  readonly broker: BrokerAddresses
  /** Topic prefix of the tally's own topics, e.g. `ropewalk/tally`. */
  readonly tally: string
  readonly sides: readonly string[]
  /** Number of floors, ground floor included. */
  readonly floors: number
  readonly roof: Roof
  readonly alerts?: AlertSettings
  /** First topic level of the house's devices by the Homie convention. */
  readonly homieDomain: string
  readonly senders: Readonly<Record<string, Sender>>
  readonly openings: readonly Opening[]
  /** Free part names to prices in the person's own currency; used by `parts`. */
  readonly prices?: Readonly<Record<string, number>>
}

/** What a register text gave: the register (absent when any error stands) and every problem in line order. */
export interface Parsed {
  readonly register?: Register
  readonly problems: readonly Problem[]
}
