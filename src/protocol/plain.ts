export const PLAIN_WORDS = ['may-be-open', 'closed', 'unknown'] as const
export type PlainWord = (typeof PLAIN_WORDS)[number]
