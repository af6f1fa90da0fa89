import { momentOf, wallOf } from '../../text/time-zone.ts'

const DAYS = ['sun', 'mon', 'tue', 'wed', 'thu', 'fri', 'sat'] as const
const TIME =
  /^(?:(?<day>\p{L}{3,9})(?:\s+|$))?(?:(?<date>\d{4}-\d\d-\d\d)(?:[T\s]|$))?(?:(?<hour>\d{1,2})[:.](?<minute>\d\d))?$/u

/**
 * The last moment before `now` that a person means by `Fri 09:00`, `09:00`, `2026-05-01`, `2026-05-01 09:00` or an
 * ISO 8601 time with its zone.
 * @returns milliseconds since the epoch; undefined when it is none of these
 */
export function momentBefore(text: string, timeZone: string, now: number): number | undefined {
  const trimmed = text.trim()
  if (/^\d{4}-\d\d-\d\dT.*(Z|[+-]\d\d:\d\d)$/.test(trimmed)) {
    const at = Date.parse(trimmed)
    return Number.isNaN(at) ? undefined : at
  }
  const { day, date, hour, minute } = TIME.exec(trimmed)?.groups ?? {}
  if (trimmed === '' || (!day && !date && hour === undefined) || (day && date)) return undefined
  const [h, m] = [Number(hour ?? 0), Number(minute ?? 0)]
  if (h > 23 || m > 59) return undefined
  if (date) {
    const [year = 0, month = 0, dayOfMonth = 0] = date.split('-').map(Number)
    const real = new Date(Date.UTC(year, month - 1, dayOfMonth))
    if (real.getUTCMonth() !== month - 1 || real.getUTCDate() !== dayOfMonth) return undefined
    return momentOf(timeZone, year, month, dayOfMonth, h, m)
  }
  const wanted = day === undefined ? undefined : DAYS.findIndex(name => day.toLowerCase().startsWith(name))
  if (wanted === -1) return undefined
  for (let back = 0; back <= 7; back++) {
    const local = new Date(wallOf(now, timeZone))
    local.setUTCDate(local.getUTCDate() - back)
    if (wanted !== undefined && local.getUTCDay() !== wanted) continue
    const at = momentOf(timeZone, local.getUTCFullYear(), local.getUTCMonth() + 1, local.getUTCDate(), h, m)
    if (at <= now) return at
  }
  return undefined
}

/** A time on the house's own clocks: `Fri 2026-05-01 18:02`. */
export function localTime(iso: string, timeZone: string): string {
  const at = new Date(wallOf(Date.parse(iso), timeZone))
  const day = DAYS[at.getUTCDay()]!
  return `${day[0]!.toUpperCase()}${day.slice(1)} ${at.toISOString().slice(0, 16).replace('T', ' ')}`
}

/** The time of day on the house's own clocks: `18:02:07`. */
export const clockTime = (iso: string, timeZone: string): string =>
  new Date(wallOf(Date.parse(iso), timeZone)).toISOString().slice(11, 19)
