const DAYS = ['sun', 'mon', 'tue', 'wed', 'thu', 'fri', 'sat'] as const
const TIME =
  /^(?:(?<day>\p{L}{3,9})(?:\s+|$))?(?:(?<date>\d{4}-\d\d-\d\d)(?:[T\s]|$))?(?:(?<hour>\d{1,2})[:.](?<minute>\d\d))?$/u

interface Wall {
  readonly year: number
  readonly month: number
  readonly day: number
  readonly hour: number
  readonly minute: number
}

/** What the clocks of a time zone show, as if it were UTC, in milliseconds. */
function shown(timeZone: string, at: number): number {
  const parts = new Intl.DateTimeFormat('en-CA', {
    timeZone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  }).formatToParts(at)
  const part = (type: string): number => Number(parts.find(each => each.type === type)?.value)
  return Date.UTC(part('year'), part('month') - 1, part('day'), part('hour'), part('minute'), part('second'))
}

/**
 * The moment at which the clocks of a time zone show a time; the first of two, and one that is skipped an hour later.
 */
function momentOf(timeZone: string, { year, month, day, hour, minute }: Wall): number {
  const wanted = Date.UTC(year, month - 1, day, hour, minute)
  const offsets = [-86_400_000, 86_400_000].map(away => shown(timeZone, wanted + away) - (wanted + away))
  const moments = offsets.map(offset => wanted - offset).sort((a, b) => a - b)
  return moments.find(moment => shown(timeZone, moment) === wanted) ?? moments[1]!
}

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
    return momentOf(timeZone, { year, month, day: dayOfMonth, hour: h, minute: m })
  }
  const wanted = day === undefined ? undefined : DAYS.findIndex(name => day.toLowerCase().startsWith(name))
  if (wanted === -1) return undefined
  for (let back = 0; back <= 7; back++) {
    const local = new Date(shown(timeZone, now))
    local.setUTCDate(local.getUTCDate() - back)
    if (wanted !== undefined && local.getUTCDay() !== wanted) continue
    const [year, month] = [local.getUTCFullYear(), local.getUTCMonth() + 1]
    const at = momentOf(timeZone, { year, month, day: local.getUTCDate(), hour: h, minute: m })
    if (at <= now) return at
  }
  return undefined
}

/** A time on the house's own clocks: `Fri 2026-05-01 18:02`. */
export function localTime(iso: string, timeZone: string): string {
  const at = new Date(shown(timeZone, Date.parse(iso)))
  const day = DAYS[at.getUTCDay()]!
  return `${day[0]!.toUpperCase()}${day.slice(1)} ${at.toISOString().slice(0, 16).replace('T', ' ')}`
}

/** The time of day on the house's own clocks: `18:02:07`. */
export const clockTime = (iso: string, timeZone: string): string =>
  new Date(shown(timeZone, Date.parse(iso))).toISOString().slice(11, 19)
