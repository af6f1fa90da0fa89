import * as z from 'zod/mini'
import { fittingJson } from './fitting.ts'
import { map, only, optional, type Plain, text } from './parts.ts'

export const heardSchema = map({
  v: only(1),
  ok: z.boolean('must be true or false'),
  problem: optional(text()),
})

/** The keeper's answer to a say. */
export interface HeardNote extends Plain<typeof heardSchema> {}

/** The keeper's answer from `heard/<id>`; undefined when it does not fit. */
export const parseHeard = (text: string): HeardNote | undefined => fittingJson(heardSchema, text)
