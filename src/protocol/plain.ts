import { oneOf } from './parts.ts'

export const PLAIN_WORDS = ['may-be-open', 'closed', 'not-certain'] as const
export type PlainWord = (typeof PLAIN_WORDS)[number]

/** The one payload that is plain text and no JSON. */
export const plainSchema = oneOf(PLAIN_WORDS)
