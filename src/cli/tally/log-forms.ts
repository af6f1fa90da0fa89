/** How the log of a keeper is written. */
export const LOG_FORMS = ['text', 'json'] as const
export type LogForm = (typeof LOG_FORMS)[number]
