/** The ledger's plain types. All are JSON-able; times in entries and readings are ISO 8601 UTC with milliseconds. */

export const WHATS = [
  'opened',
  'rest',
  'closed',
  'gone',
  'odd',
  'seen-closed',
  'cell-fitted',
  'module-fitted',
  'flashed',
  'proved',
  'failed',
  'round',
  'note',
  'undone',
] as const
export type What = (typeof WHATS)[number]

export const HOWS = ['live', 'retained', 'queued', 'said'] as const
/**
 * How an entry came. `live`: as it happened (a person's word without a time of its own too);
 * `retained`: a copy the broker kept; `queued`: it waited at the broker between `at` and `until`;
 * `said`: a person gave the time, and it counts at that time.
 */
export type How = (typeof HOWS)[number]

/** One line of the tally. Fields that are unknown are absent. */
export interface Entry {
  readonly id: string
  readonly at: string
  /** End of the interval in which a queued entry happened. */
  readonly until?: string
  readonly mark: string
  readonly what: What
  readonly how: How
  /** Tries this entry stands for; default 1 for a word of a cell sender. */
  readonly sends?: number
  /** The module's boot counter, where its payload carries one. */
  readonly boots?: number
  /** Odd payloads (capped), or what a note says; `bench` on a failed or proved entry: not on its cell. */
  readonly text?: string
  readonly by?: string
  readonly note?: string
  readonly cell?: { readonly type: string; readonly batch?: string; readonly millivolts?: number }
  /** Id of the entry that an `undone` takes back. */
  readonly undoes?: string
  readonly millivolts?: number
  readonly revision?: string
  /** On a rest word: seconds the link had been live without a gap when it came. Absent: not known. */
  readonly linkLiveSeconds?: number
  /** On a proved or failed entry, or an opened word of a round: milliseconds from the opening to the first word. */
  readonly joinMilliseconds?: number
}

/** What the ledger must know of one opening to count it and to speak of it. */
export interface Policy {
  readonly reports: 'openings' | 'both'
  readonly power: 'cell' | 'mains'
  readonly keepAliveSeconds: number
  /** Power to message, seconds. */
  readonly bootSeconds: number
  readonly bounceSeconds: number
  readonly repeatSeconds?: number
  readonly provenWithinDays: number
  readonly takeAsClosedAfterMinutes: number | null
  readonly replaceBelow: number
  /** ISO date from the register: when the first cell was fitted. */
  readonly cellFitted?: string
  /** Cell type in the register; absent on mains. */
  readonly cell?: string
  /** Revision of the header that the register gives now. */
  readonly revision?: string
  /** Median openings of a new cell by the model; absent on mains. */
  readonly modelSends?: number
  /** Earlier marks whose history belongs to this one. */
  readonly was?: readonly string[]
}
export type HousePolicy = Readonly<Record<string, Policy>>

export const POSITIONS = ['open', 'opened', 'closed', 'taken-closed', 'no-word'] as const
export type Position = (typeof POSITIONS)[number]

export const DOUBTS = ['untested', 'faint', 'twin', 'low', 'spent', 'silent', 'reflash'] as const
export type Doubt = (typeof DOUBTS)[number]

/** What is left in a cell, in openings, and what that rests on. */
export interface Left {
  readonly p05: number
  readonly p50: number
  readonly p95: number
  /** Chance that the next opening gets through, 0 to 1. */
  readonly next: number
  /** `assumed`: no count is known in the trade for this kind of cell and load, only what the model assumes. */
  readonly restsOn: {
    readonly source: 'practice' | 'house'
    readonly assumed?: true
    readonly cells: number
    readonly deaths: number
  }
  /** Silent for longer than its own openings explain: true only if it still runs. */
  readonly ifRunning?: true
  /** The model leaves what is known of this cell: there may be more left. */
  readonly atLeast?: true
  /** It has sent before the count began, how often is a guess. */
  readonly sentBefore?: true
  /**
   * Only where the first word has become slower, which may be the cell: median of the newest three over the median of
   * the earliest five, and of how many words.
   */
  readonly slowJoin?: { readonly ratio: number; readonly words: number }
}

/** What may be said of one opening at `asOf`. */
export interface Reading {
  readonly mark: string
  readonly position: Position
  readonly since?: string
  readonly doubts: readonly Doubt[]
  readonly last?: { readonly at: string; readonly until?: string; readonly word: What; readonly how: How }
  /** Openings in all, and sends of the present cell. */
  readonly openings: number
  readonly sends: number
  /** Sends before this time are unknown. */
  readonly countedSince?: string
  readonly left?: Left
  readonly asOf: string
  /** Last time the contact itself proved that it works. */
  readonly provenAt?: string
  /** The other contact of a `twin` doubt. */
  readonly twinWith?: string
  /** Seen shut, but nobody listened for a time that ended then: an opening in between was not seen. */
  readonly unheard?: string
  /** Of a contact of both edges: `since` is when somebody saw it shut. */
  readonly seen?: true
  /** What was seen shut its contact had last called open, and has not corrected since. */
  readonly against?: true
  /** Unknown words on this opening's topic: how many, and the last one (capped). */
  readonly odd?: { readonly count: number; readonly text: string; readonly at: string }
}

/** A message as the link hands it over. */
export interface Heard {
  readonly topic: string
  readonly payload: Uint8Array
  readonly retain: boolean
  readonly dup: boolean
  readonly qos: 0 | 1 | 2
  readonly packetId?: number
  /** MQTT 5: seconds of expiry left, where the publisher set one. */
  readonly expirySeconds?: number
}

/** Health of the link; times are milliseconds since the epoch. */
export type LinkState =
  | { readonly state: 'connecting'; readonly since: number }
  | { readonly state: 'live'; readonly since: number; readonly sessionPresent: boolean }
  | { readonly state: 'down'; readonly since: number; readonly why?: string }
  | {
      readonly state: 'refused'
      readonly since: number
      readonly why: string
      /** The broker does not take this user name and password: another account may come in. */
      readonly account?: true
      /** The link itself is up, but the broker does not let this account read these topic filters. */
      readonly filters?: readonly string[]
    }

/** Port: words come in, words go out. The one implementation over MQTT is in `link/`. */
export interface Feed {
  /**
   * Connects and keeps the link up until `close`.
   * `heard` may return a promise: the message is acknowledged to the broker only when it has settled.
   */
  open(listener: { heard(message: Heard): void | Promise<void>; link(state: LinkState): void }): void
  /** Replaces the set of topic filters. */
  listen(filters: readonly string[]): void
  /** Resolves when the broker has acknowledged (QoS 1) or the packet is out (QoS 0); rejects when it cannot be sent. */
  publish(
    topic: string,
    payload: string | Uint8Array,
    options?: { qos?: 0 | 1; retain?: boolean; expirySeconds?: number },
  ): Promise<void>
  close(): Promise<void>
}

/** Port: durable entries and the ledger they add up to. */
export interface Store<Kept> {
  /** The last ledger that was committed; undefined for a new store. */
  load(): Promise<Kept | undefined>
  /** Keeps entries and the ledger after them in one transaction. */
  commit(entries: readonly Entry[], ledger: Kept): Promise<void>
  /** Entries of one mark, oldest first, at most `limit` of the newest. */
  story(mark: string, limit: number): Promise<readonly Entry[]>
  close(): Promise<void>
}
