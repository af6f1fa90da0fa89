/** Spans of time, milliseconds. */
export const MINUTE = 60_000
export const HOUR = 60 * MINUTE
export const DAY = 24 * HOUR

/** Of the Julian calendar: the mean that seasons and rates go by. */
export const DAYS_IN_YEAR = 365.25

/** ISO 8601 UTC with milliseconds, from milliseconds since the epoch. */
export const iso = (milliseconds: number): string => new Date(milliseconds).toISOString()
