import { HOWS } from './entry.ts'
import { fittingJson } from './fitting.ts'
import { amount, count, map, mark, oneOf, only, optional, type Plain, some, text, time, upTo } from './parts.ts'
import { WHATS } from './whats.ts'

export const POSITIONS = ['open', 'opened', 'closed', 'taken-closed', 'no-word'] as const
/** What may be said of where a window is; only `closed` is a window that somebody knows to be shut. */
export type Position = (typeof POSITIONS)[number]

export const DOUBTS = ['untested', 'overdue', 'faint', 'twin', 'low', 'spent', 'silent', 'reflash'] as const
/** A reason not to rely on a reading; `overdue`, `faint` and the others are told in `src/ledger/README.md`. */
export type Doubt = (typeof DOUBTS)[number]

export const restsOnSchema = map({
  source: oneOf(['practice', 'house']),
  assumed: optional(only(true)),
  cells: count,
  deaths: count,
  volts: optional(amount),
})

export const leftSchema = map({
  /** Quantiles of the openings left: 5, 50 and 95 in 100 cells like this one have no more. */
  p05: amount,
  p50: amount,
  p95: amount,
  /** Chance that the cell still runs, 0 to 1. */
  alive: optional(upTo(1)),
  /** Chance that the next opening gets through, 0 to 1. */
  next: upTo(1),
  /** When to change the cell: silence alone does not move it. */
  changeBy: optional(time),
  /**
   * `practice`: what is known in the trade; `house`: cells of this house, that many of which so many died.
   * `assumed`: no count is known in the trade for this kind of cell and load, only what the model assumes.
   */
  restsOn: restsOnSchema,
  /** Only where the cell is more likely dead than not: days without a word, and the usual gap between two. */
  silence: optional(map({ days: amount, usualDays: amount })),
  /** The model leaves what is known of this cell: there may be more left. */
  atLeast: optional(only(true)),
  /** The cell has sent before the count began, and how often is a guess. */
  sentBefore: optional(only(true)),
  /**
   * Only where first words have become slower, which may be the cell: the median of the newest three over the median of
   * the earliest five, and how many words there are.
   */
  slowJoin: optional(map({ ratio: amount, words: count })),
})

const shape = {
  mark,
  position: oneOf(POSITIONS),
  since: optional(time),
  /** Latest time for `since`, where the word or the look waited or the clock was wrong. */
  sinceUntil: optional(time),
  /** `since` is the earliest time; nobody knows a latest one, for the clock cannot be right. */
  notBefore: optional(only(true)),
  doubts: some(oneOf(DOUBTS), 32),
  /** End of the test that the opening is on: until then its words count nothing. */
  onTestUntil: optional(time),
  last: optional(map({ at: time, until: optional(time), word: oneOf(WHATS), how: oneOf(HOWS) })),
  /** Openings in all, and sends of the present cell. */
  openings: count,
  sends: count,
  /** Sends before this time are unknown. */
  countedSince: optional(time),
  left: optional(leftSchema),
  asOf: time,
  /** Last time the contact itself proved that it works. */
  provenAt: optional(time),
  /** End of a walk that passed the contact by and did not hear it; it has not proved itself since. */
  unheardOnWalk: optional(time),
  /** The other contact of a `twin` doubt. */
  twinWith: optional(mark),
  /** End of a time in which nobody listened, after it was seen shut: it may have been opened in between. */
  unheard: optional(time),
  /** Of a contact of both edges: `since` is when somebody saw it shut. */
  seen: optional(only(true)),
  /** Who saw it shut: the `by` of that say. */
  seenBy: optional(text()),
  /** Somebody saw it shut, but its contact had last said that it is open, and has said nothing since. */
  against: optional(only(true)),
  /** Unknown words on this opening's topic: how many, and the last one (capped). */
  odd: optional(map({ count, text: text(), at: time })),
}

export const bareReadingSchema = map(shape)
export const readingSchema = map({ v: only(1), name: text(), ...shape })

/** What is left in a cell, in openings, and what that rests on. */
export interface Left extends Plain<typeof leftSchema> {}

/** What may be said of one opening at `asOf`. */
export interface Reading extends Plain<typeof bareReadingSchema> {}

/** A reading as published, with the opening's name. */
export interface ReadingNote extends Plain<typeof readingSchema> {}

/** A reading from `opening/<mark>`; undefined when what must be there is not, or does not fit. */
export function parseReading(text: string): ReadingNote | undefined {
  const note = fittingJson(readingSchema, text)
  return note && { ...note, doubts: [...new Set(note.doubts)] }
}
