/** Local days and hours of a house, by its IANA time zone; right on days of 23 and 25 hours. Times are milliseconds since the epoch. */

import { DAY } from './time.ts'

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

/** Whether Intl knows a time zone by its name; an offset such as +01:00, which knows no summer time, is none. */
export function isTimeZone(name: string): boolean {
  try {
    return /^[A-Za-z]/.test(name) && format(name) !== undefined
  } catch {
    return false
  }
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

/** What the local clock shows, as if it were UTC. */
export const wallOf = (at: number, timezone: string): number => at + offsetAt(at, timezone)

/**
 * Moment at which the local clock shows a time: the first of two where the clock shows it twice. A time that the clock
 * skips is read on the clock as it ran before the skip, so it is as much later. Days beyond a month's end roll over, as
 * in `Date.UTC`.
 * @param month - 1 to 12
 */
export function momentOf(timezone: string, year: number, month: number, day: number, hour = 0, minute = 0): number {
  const wall = Date.UTC(year, month - 1, day, hour, minute)
  const offsets = [offsetAt(wall - DAY, timezone), offsetAt(wall + DAY, timezone)]
  const early = wall - Math.max(...offsets)
  return wallOf(early, timezone) === wall ? early : wall - Math.min(...offsets)
}

/** A month of the local calendar. */
export interface Month {
  /** `2026-11`. */
  readonly name: string
  readonly from: number
  /** Start of the next one. */
  readonly to: number
}

/** The months that were last asked for in each zone: those who count ask for the same ones again and again. Only speed depends on it. */
const lastMonths = new Map<string, readonly Month[]>()

/** The local month that holds a moment and those before it, in order. @param count - of months, at least 1 */
export function monthsTo(at: number, timezone: string, count: number): readonly Month[] {
  const known = lastMonths.get(timezone) ?? []
  const last = known.at(-1)
  if (last && at >= last.from && at < last.to && known.length >= count) return known.slice(-count)
  const { year, month } = localOf(at, timezone)
  const starts = Array.from({ length: count + 1 }, (_, index) => momentOf(timezone, year, month + 1 - count + index, 1))
  const months = starts.slice(1).map((to, index): Month => {
    const name = new Date(Date.UTC(year, month - count + index, 1)).toISOString().slice(0, 7)
    return { name, from: starts[index]!, to }
  })
  lastMonths.set(timezone, months)
  return months
}

/** Start and end of the local day that holds a moment; 23, 24 or 25 hours apart. */
export function dayOf(at: number, timezone: string): { readonly from: number; readonly to: number } {
  const { year, month, day } = localOf(at, timezone)
  return { from: momentOf(timezone, year, month, day), to: momentOf(timezone, year, month, day + 1) }
}
