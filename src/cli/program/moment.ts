import { DAY } from '../../text/time.ts'
import { momentOf, wallOf } from '../../text/time-zone.ts'
import type { Kind } from './kinds.ts'

const DAYS = ['sun', 'mon', 'tue', 'wed', 'thu', 'fri', 'sat'] as const
const WALL_TIME =
  /^(?:(?<day>\p{L}{3,9})(?:\s+|$))?(?:(?<date>\d{4}-\d\d-\d\d)(?:[T\s]|$))?(?:(?<hour>\d{1,2})[:.](?<minute>\d\d))?$/u
const WITH_ZONE = /^\d{4}-\d\d-\d\dT.*(Z|[+-]\d\d:\d\d)$/

/** A time as a person means it: a moment, or what the clocks of the house showed on a day. */
export type TypedMoment =
  | { readonly at: number }
  | {
      readonly date: readonly [year: number, month: number, day: number]
      readonly hour: number
      readonly minute: number
    }
  | { readonly weekday: number | undefined; readonly hour: number; readonly minute: number }

/** `Fri 09:00`, `09:00`, `2026-05-01`, `2026-05-01 09:00` or an ISO 8601 time with its zone. */
export const moment: Kind<TypedMoment> = {
  read: given => {
    const value = parse(given.trim())
    return value ? { value } : { wants: "a time such as 17:50, 'Fri 09:00', 2026-05-01 or '2026-05-01 09:00'" }
  },
}

function parse(given: string): TypedMoment | undefined {
  if (WITH_ZONE.test(given)) {
    const at = Date.parse(given)
    return Number.isNaN(at) ? undefined : { at }
  }
  const { day, date, hour, minute } = WALL_TIME.exec(given)?.groups ?? {}
  if ((!day && !date && hour === undefined) || (day && date)) return undefined
  const clock = { hour: Number(hour ?? 0), minute: Number(minute ?? 0) }
  if (clock.hour > 23 || clock.minute > 59) return undefined
  if (date) {
    const [year = 0, month = 0, dayOfMonth = 0] = date.split('-').map(Number)
    const real = new Date(Date.UTC(year, month - 1, dayOfMonth))
    const isReal = real.getUTCMonth() === month - 1 && real.getUTCDate() === dayOfMonth
    return isReal ? { date: [year, month, dayOfMonth], ...clock } : undefined
  }
  const weekday = day === undefined ? undefined : DAYS.findIndex(name => day.toLowerCase().startsWith(name))
  return weekday === -1 ? undefined : { weekday, ...clock }
}

/**
 * When it was: without a date, the last such time before `now`.
 * @param now - milliseconds since the epoch
 * @returns milliseconds since the epoch
 */
export function momentBefore(typed: TypedMoment, timeZone: string, now: number): number {
  if ('at' in typed) return typed.at
  const { hour, minute } = typed
  if ('date' in typed) return momentOf(timeZone, ...typed.date, hour, minute)
  const today = wallOf(now, timeZone)
  for (let back = 0; ; back++) {
    const day = new Date(today - back * DAY)
    if (typed.weekday !== undefined && day.getUTCDay() !== typed.weekday) continue
    const at = momentOf(timeZone, day.getUTCFullYear(), day.getUTCMonth() + 1, day.getUTCDate(), hour, minute)
    if (at <= now) return at
  }
}
