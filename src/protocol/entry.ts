/** Entries: the lines of a tally. */
import * as z from 'zod/mini'
import { fitting } from './fitting.ts'
import { amount, anyTime, CELL_RULE, count, mark, oneOf, only, optional, type Plain, pattern, text } from './parts.ts'
import { WHATS } from './whats.ts'

/**
 * How an entry came. `live`: as it happened (a person's word without a time of its own too);
 * `retained`: a copy the broker kept; `queued`: it waited at the broker between `at` and `until`;
 * `said`: a person gave the time, and it counts at that time; `tested`: a word of an opening that was on test, kept
 * and not counted.
 */
export const HOWS = ['live', 'retained', 'queued', 'said', 'tested'] as const
/** How an entry came; `HOWS` says what each of them means. */
export type How = (typeof HOWS)[number]

/** Who the keeper itself is in entries: nobody else may sign so. */
export const KEEPER_NAME = 'sashtally'

const LONGEST = 10_000

/** A cell as a person names it. */
export const cellSchema = z.strictObject(
  { type: text(LONGEST), batch: optional(text(LONGEST)), millivolts: optional(amount) },
  CELL_RULE,
)

/** Fields of an entry. One that is unknown is absent. */
const fields = {
  id: pattern(/^[^\p{Cc}\p{Cs}]{1,200}$/u, 'must be text of 1 to 200 characters'),
  /** ISO 8601 UTC. */
  at: anyTime,
  /** End of the interval in which a queued entry happened, or of a test. */
  until: optional(anyTime),
  mark,
  what: oneOf(WHATS),
  how: oneOf(HOWS),
  /** Tries this entry stands for; default 1 for a word of a cell sender. */
  sends: optional(count),
  /** The module's boot counter, where its payload carries one. */
  boots: optional(count),
  /** Odd payloads (capped), or what a note says; `bench` on a failed or proved entry: not on its cell. */
  text: optional(text(LONGEST)),
  by: optional(text(LONGEST)),
  note: optional(text(LONGEST)),
  cell: optional(cellSchema),
  /** Id of the entry that an `undone` takes back. */
  undoes: optional(text(LONGEST)),
  /** Lowest volts under load between boot and acknowledgement, in mV. */
  millivolts: optional(amount),
  revision: optional(text(LONGEST)),
  /** On a rest word: seconds the link had been live without a gap when it came. Absent: not known. */
  linkLiveSeconds: optional(amount),
  /** On a proved or failed entry, or an opened word: milliseconds from the opening to the first word. */
  joinMilliseconds: optional(amount),
  /** The word may be a second delivery of one that was counted already. */
  maybeAgain: optional(only(true)),
}

const bareSchema = z.strictObject(fields, 'must be a JSON object')

/** One line of the tally. */
export interface Entry extends Plain<typeof bareSchema> {}

/** A test that is ended by hand ends when that was said, a little before the keeper heard it. */
const isInOrder = ({ what, at, until }: Entry): boolean =>
  what === 'on-test' || until === undefined || !(Date.parse(until) < Date.parse(at))
const hasTarget = ({ what, undoes }: Entry): boolean => what !== 'undone' || undoes !== undefined

export const entrySchema = bareSchema.check(
  z.refine(isInOrder, { error: 'must not be before at', path: ['until'] }),
  z.refine(hasTarget, 'undone needs undoes, the id it takes back'),
)

const NEEDED = ['id', 'at', 'mark', 'what', 'how'] as const

/** Whether a value has all that an entry must have; what may be absent is not looked at. */
export const isEntry = (value: { readonly [Key in (typeof NEEDED)[number]]?: unknown }): value is Entry =>
  NEEDED.every(key => fields[key].safeParse(value[key]).success)

/**
 * As `entrySchema`, but looks only at fields that are there: a quarter of the time, in the one place where every word,
 * every row and every line comes by.
 */
export function isWholeEntry(value: unknown): value is Entry {
  if (typeof value !== 'object' || value === null) return false
  const given = value as Readonly<Record<string, unknown>>
  for (const key of NEEDED) if (given[key] === undefined) return false
  for (const key in given) {
    if (given[key] === undefined) continue
    const field = Object.hasOwn(fields, key) ? fields[key as keyof typeof fields] : undefined
    if (!field?.safeParse(given[key]).success) return false
  }
  return isInOrder(value as Entry) && hasTarget(value as Entry)
}

/**
 * The entry if it can count: the same object, or a copy without the fields that do not fit.
 * @returns undefined where id, time, mark, what or how is missing or none
 */
export const soundEntry = (value: unknown): Entry | undefined =>
  isWholeEntry(value) ? value : fitting(entrySchema, value)
