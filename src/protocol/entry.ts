/** Entries: the lines of a tally. All are JSON-able; times are ISO 8601 UTC with milliseconds. */

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

/** Who the keeper itself is in entries: nobody else may sign so. */
export const KEEPER_NAME = 'sashtally'
