import * as z from 'zod/mini'
import { anyTime, time } from './parts.ts'
import { PAYLOADS } from './payloads.ts'
import type { TopicKind } from './topics.ts'

/** A JSON Schema as plain data. */
export type JsonSchema = Readonly<Record<string, unknown>>

const TIMES: ReadonlyMap<unknown, string> = new Map([
  [time, '^[^.]+[.][0-9]{3}Z$'],
  [anyTime, 'Z$'],
])

/** Drafts of JSON Schema: the newest, and the one that AsyncAPI and Thing Descriptions hold. */
export type Draft = 'draft-2020-12' | 'draft-07'

/**
 * JSON Schema of what a schema of this folder lets in. Rules between fields cannot be told there: a reader that goes by
 * it takes a little more than this program does. Unknown keys are allowed: a later version may publish more.
 */
export const jsonSchema = (schema: z.ZodMiniType, draft: Draft = 'draft-2020-12'): JsonSchema =>
  z.toJSONSchema(schema, {
    target: draft,
    io: 'input',
    override({ zodSchema, jsonSchema }) {
      const times = TIMES.get(zodSchema)
      // The calendar, which the pattern holds as well, is what the format means (RFC 3339, section 5.6).
      if (times) Object.assign(jsonSchema, { format: 'date-time', pattern: times })
    },
  })

/** JSON Schema of the payload of a kind of topic, with what it is as its description. */
export function jsonSchemaOf(kind: TopicKind, draft?: Draft): JsonSchema {
  const { $schema, ...rest } = jsonSchema(PAYLOADS[kind].schema, draft)
  return { $schema, description: PAYLOADS[kind].says, ...rest }
}
