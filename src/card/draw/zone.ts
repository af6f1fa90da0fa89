/** Local days and hours of a house, by its IANA time zone; right on days of 23 and 25 hours. Times are milliseconds since the epoch. */

const formats = new Map<string, Intl.DateTimeFormat>()

function format(timezone: string): Intl.DateTimeFormat {
  let found = formats.get(timezone)
  if (!found) {
    found = new Intl.DateTimeFormat('en-US', {
      timeZone: timezone,
      calendar: 'gregory',
      numberingSystem: 'latn',
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    })
    formats.set(timezone, found)
  }
  return found
}

export interface Local {
  readonly year: number
  /** 1 to 12. */
  readonly month: number
  readonly day: number
  readonly hour: number
  readonly minute: number
  readonly second: number
}

/** @throws RangeError for a time zone that Intl does not know */
export function localOf(at: number, timezone: string): Local {
  const local: Record<string, number> = {}
  for (const { type, value } of format(timezone).formatToParts(at)) if (type !== 'literal') local[type] = Number(value)
  return local as unknown as Local
}

const asUtc = ({ year, month, day, hour, minute, second }: Local) =>
  Date.UTC(year, month - 1, day, hour, minute, second)

/** Difference of the local clock from UTC at a moment. */
const offsetAt = (at: number, timezone: string) => asUtc(localOf(at, timezone)) - Math.floor(at / 1000) * 1000

/**
 * Moment at which the local clock first shows a time. A time that the clock skips gives the moment of the skip;
 * a time shown twice gives the first. Days beyond a month's end roll over, as in `Date.UTC`.
 */
export function momentOf(year: number, month: number, day: number, hour: number, timezone: string): number {
  const wall = Date.UTC(year, month - 1, day, hour)
  const before = offsetAt(wall - 86_400_000, timezone)
  const after = offsetAt(wall + 86_400_000, timezone)
  const early = wall - Math.max(before, after)
  const late = wall - Math.min(before, after)
  if (offsetAt(early, timezone) === Math.max(before, after)) return early
  if (wall - offsetAt(late, timezone) === late) return late
  // skipped: the first moment after the jump
  let low = early
  let high = late
  while (high - low > 1000) {
    const middle = Math.floor((low + high) / 2000) * 1000
    if (offsetAt(middle, timezone) === before) low = middle
    else high = middle
  }
  return high
}

/** Start and end of the local day that holds a moment; 23, 24 or 25 hours apart. */
export function dayOf(at: number, timezone: string): { readonly from: number; readonly to: number } {
  const { year, month, day } = localOf(at, timezone)
  return { from: momentOf(year, month, day, 0, timezone), to: momentOf(year, month, day + 1, 0, timezone) }
}
