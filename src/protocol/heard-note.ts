import * as z from 'zod/mini'
import { fittingJson } from './fitting.ts'
import { map, oneOf, only, optional, type Plain, text } from './parts.ts'

/**
 * Why a say is refused, in a word; `problem` says it in a sentence. `unknown` the house has no such opening; `no-cell`
 * it runs on mains; `not-there` what was to be taken back is not, or no person said it; `too-late` too much has
 * happened since. The others are for who wrote the say: `form`, `retained`, `id`, `signed`, `future`, `long`.
 */
export const REFUSALS = [
  'form',
  'retained',
  'id',
  'unknown',
  'signed',
  'future',
  'too-late',
  'long',
  'no-cell',
  'not-there',
] as const
export type Refusal = (typeof REFUSALS)[number]

export const heardSchema = map({
  v: only(1),
  ok: z.boolean('must be true or false'),
  problem: optional(text()),
  /** The same in a word, for who puts it into words. */
  code: optional(oneOf(REFUSALS)),
})

/** The keeper's answer to a say. */
export interface HeardNote extends Plain<typeof heardSchema> {}

/** The keeper's answer from `heard/<id>`; undefined when it does not fit. */
export const parseHeard = (text: string): HeardNote | undefined => fittingJson(heardSchema, text)
