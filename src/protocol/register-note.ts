import * as z from 'zod/mini'
import { fittingJson, LONGEST } from './fitting.ts'
import { count, map, mark, oneOf, only, optional, type Plain, some, text, upTo } from './parts.ts'
import { MOST_NAMES, policySchema } from './policy.ts'

const MOST_OPENINGS = 5_000

const openingSchema = map({
  mark,
  name: text(),
  room: optional(text()),
  kind: text(),
  /** `along` is the place on its side seen from outside, 0 (left) to 1 (right); floor 0 is the ground floor. */
  at: optional(map({ side: text(), floor: count, along: optional(upTo(1)) })),
  reports: oneOf(['openings', 'both']),
  cell: optional(text()),
  policy: policySchema,
})

export const registerSchema = map({
  v: only(1),
  house: text(),
  /** IANA time zone name. */
  timezone: text(),
  sides: some(text(), MOST_NAMES),
  /** Number of floors, ground floor included. */
  floors: z.int('must be a whole number from 1 to 200').check(z.gte(1), z.lte(200)),
  roof: text(),
  openings: z.array(openingSchema, 'must be a list').check(z.maxLength(MOST_OPENINGS)),
})

export interface RegisterNoteOpening extends Plain<typeof openingSchema> {}

/** The register as a wall may see it: nothing of topics, client ids, broker, Wi-Fi or prices. */
export interface RegisterNote extends Plain<typeof registerSchema> {}

/** The house from `register`; undefined when it, or any one of its openings, does not fit or a mark comes twice. */
export function parseRegisterNote(text: string): RegisterNote | undefined {
  const note = fittingJson(registerSchema, text, LONGEST.register)
  const marks = new Set(note?.openings.map(each => each.mark.toUpperCase()))
  return marks.size === note?.openings.length ? note : undefined
}
