import * as z from 'zod/mini'
import { parseJson } from '../text/parse-json.ts'
import { HOUR } from '../text/time.ts'
import { LONGEST } from './fitting.ts'
import { CELL_RULE, id, map, oneOf, only, optional, type Plain, pattern, text, upTo, zonedTime } from './parts.ts'
import { checked } from './problems.ts'
import { SAYABLE } from './whats.ts'

/** A time with any zone as UTC with milliseconds; undefined where its year in UTC is not 0000 to 9999. */
function utc(text: string): string | undefined {
  const at = Date.parse(text)
  const iso = Number.isNaN(at) ? '' : new Date(at).toISOString()
  return iso.length === 24 ? iso : undefined
}

const cellSchema = z.object(
  {
    type: text().check(z.minLength(1, 'must not be empty')),
    batch: optional(text()),
    millivolts: optional(upTo(20_000)),
  },
  CELL_RULE,
)

const saidTime = zonedTime.check(z.refine(at => utc(at) !== undefined, 'must be a time of the years 0000 to 9999'))

const base = z.object(
  {
    v: only(1),
    /** Chosen by the sender; the answer comes to `heard/<id>`, and the same id twice counts once. */
    id,
    what: oneOf(SAYABLE),
    /** When it was so, with any zone; absent: now. */
    at: optional(saidTime),
    by: optional(text()),
    note: optional(text()),
    cell: optional(cellSchema),
    /** Id of the entry that an `undone` takes back. */
    undoes: optional(text()),
    revision: optional(pattern(/^[0-9a-f]{8}$/, 'must be 8 hex digits in lower case')),
    /** Of a proved or failed say: first word after the key press, so that forecasts learn from a bench beside a keeper. */
    joinMilliseconds: optional(upTo(HOUR)),
    /** Of an on-test say: when the test ends; until then words of the opening count nothing. */
    until: optional(saidTime),
  },
  'must be a JSON object such as { "v": 1, "id": "a1", "what": "seen-closed" }',
)

/** What a person says of one opening. */
export interface Say extends Plain<typeof base> {}

/** A rule between fields; it is looked at beside what is wrong with single fields. */
const rule = (holds: (say: Partial<Say>) => boolean, error: string) =>
  z.refine<Say>(say => typeof say !== 'object' || say === null || holds(say), { error, when: () => true })

export const saySchema = base.check(
  rule(
    ({ what, undoes }) => what !== 'undone' || undoes !== undefined,
    'undone needs undoes: the id of the entry to take back',
  ),
  rule(({ what, undoes }) => what === 'undone' || undoes === undefined, 'undoes belongs to undone alone'),
  rule(
    ({ what, revision }) => what !== 'flashed' || revision !== undefined,
    'flashed needs revision: the 8 hex digits in the header that was flashed',
  ),
  rule(({ what, note }) => what !== 'note' || !isBlank(note), 'a note needs its text in note'),
  rule(
    ({ what, joinMilliseconds }) => what === 'proved' || what === 'failed' || joinMilliseconds === undefined,
    'joinMilliseconds belongs to proved and failed alone',
  ),
  rule(({ what, until }) => what !== 'on-test' || until !== undefined, 'on-test needs until: when the test ends'),
  rule(({ what, until }) => what === 'on-test' || until === undefined, 'until belongs to on-test alone'),
  rule(({ what, at }) => what !== 'on-test' || at === undefined, 'on-test begins now: leave at out'),
)

const isBlank = (text: unknown): boolean => text === undefined || (typeof text === 'string' && text.trim() === '')

/** A say, or everything that is wrong with it; `id` where it could be read, so that it can be answered. */
export type ParsedSay = { readonly say: Say } | { readonly problem: string; readonly id?: string }

/**
 * What a person says, from `say/<mark>`. Whether `at` lies in the future and whether `undoes` names an entry is for
 * `judgeSay`.
 */
export function parseSay(text: string): ParsedSay {
  if (text.length > LONGEST.other)
    return { problem: `a say is at most ${LONGEST.other} characters; this one has ${text.length}` }
  const json = parseJson(text)
  if (json === undefined) return { problem: 'a say is JSON; this text is not' }
  const result = checked(saySchema, json, 'a say')
  if ('problems' in result) return { problem: result.problems.join('; '), ...idOf(json) }
  const { at, until, ...say } = result.value
  return {
    say: {
      ...say,
      ...(at === undefined ? {} : { at: utc(at)! }),
      ...(until === undefined ? {} : { until: utc(until)! }),
    },
  }
}

const namedSchema = map({ id })
const idOf = (json: unknown): { id?: string } => namedSchema.safeParse(json).data ?? {}
