import { oneOf } from './parts.ts'

/** The words of `<tally>/plain/<mark>`, for hubs. */
export const PLAIN_WORDS = ['may-be-open', 'closed', 'not-certain'] as const
/** One of the words for hubs. */
export type PlainWord = (typeof PLAIN_WORDS)[number]

/** The one payload that is plain text and no JSON. */
export const plainSchema = oneOf(PLAIN_WORDS)
