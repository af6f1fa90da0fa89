import * as z from 'zod/mini'
import { fittingJson } from './fitting.ts'
import { count, map, mark, only, optional, type Plain, pattern, some, time, upTo } from './parts.ts'

/** A list of times, the first of them a time in any case: a tuple's code would weigh half a kilobyte in the card. */
const timesOf = <Times>(each: z.ZodMiniType<string | null>, least: number, most: number) =>
  z.array(each, 'must be a list of times').check(
    z.minLength(least),
    z.maxLength(most),
    z.refine(([first]) => first !== null),
  ) as unknown as z.ZodMiniType<Times>

export const storySchema = map({
  v: only(1),
  mark,
  /** Thirteen months in the house's time zone, oldest first; `listened` is the part of the month in which somebody did. */
  months: some(
    map({
      month: pattern(/^\d{4}-(?:0[1-9]|1[0-2])$/, 'must be a month such as 2026-11'),
      openings: count,
      listened: upTo(1),
    }),
    60,
  ),
  /** The last forty: when; until when, where it waited at the broker; when it was next known shut. */
  openings: some(
    timesOf<readonly [at: string, until?: string | null, shut?: string | null]>(z.nullable(time), 1, 3),
    200,
  ),
  /** Starts of openings that happened later, nobody knows when: their `until` is when this was told. */
  notBefore: optional(some(time, 200)),
  /** Starts of openings that may be the message of another one once more. */
  maybeAgain: optional(some(time, 200)),
  /** The cells so far, oldest first; the one that runs has no end, and `sends` where all were counted. `failed`: it ended because a try failed. */
  cells: some(map({ fitted: time, sends: optional(count), ended: optional(time), failed: optional(only(true)) }), 100),
  /** The last times in which nobody listened, before the count began too: from when to when, oldest first. */
  unheard: optional(some(timesOf<readonly [from: string, to: string]>(time, 2, 2), 50)),
})

/** What one opening did, so that a wall that has just been hung up tells the same as an old one. */
export interface StoryNote extends Plain<typeof storySchema> {}

/** A story from `story/<mark>`; undefined when it does not fit. */
export const parseStory = (text: string): StoryNote | undefined => fittingJson(storySchema, text)
