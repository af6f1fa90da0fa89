import { DAY, HOUR, MINUTE } from '../../text/time.ts'
import { late } from './late.ts'

/** Times for people, in the house's time zone: Intl does the calendar. */

export interface When {
  /** `18:02`, `Mon 09:10`, `12 Apr 18:02` or `12 Apr 2025, 18:02`: as short as it is clear at `now`. */
  at(time: number, now: number): string
  /** Date and time in full. */
  full(time: number): string
  /** `18:02`; of the two hours that read alike when summer time ends `02:50 CEST`. */
  clock(time: number): string
  day(time: number): string
  /** `14 Mar`, with the year when it is not this one. */
  date(time: number, now: number): string
  /** Month alone, with the year when it is not this one. */
  month(time: number, now: number): string
  /** `3 min ago`. */
  ago(time: number, now: number): string
  /** `4 s`, `3 min`, `2 h`, `5 days`. */
  span(milliseconds: number): string
  /** With so many decimals; whole without. */
  number(value: number, digits?: 0 | 1): string
  /** Rounded; never 100 % of what is not certain. */
  percent(share: number): string
}

const made = new Map<string, When>()

/** @param lang - BCP 47 tag that Intl knows; `en` alone reads as en-GB. */
export function whenIn(lang: string, timeZone: string): When {
  const key = `${lang} ${timeZone}`
  let when = made.get(key)
  if (!when) {
    when = make(lang === 'en' ? 'en-GB' : lang, timeZone)
    made.set(key, when)
  }
  return when
}

/** Minutes whose text is remembered. */
const MOST_MINUTES = 500

/** A sheet asks for the same minutes many times over. */
function byMinute<T>(tell: (time: number) => T): (time: number) => T {
  const known = new Map<number, T>()
  return time => {
    const minute = Math.floor(time / MINUTE)
    const before = known.get(minute)
    if (before !== undefined) return before
    const told = tell(time)
    if (known.size >= MOST_MINUTES) known.clear()
    known.set(minute, told)
    return told
  }
}

function make(lang: string, timeZone: string): When {
  const format = (options: Intl.DateTimeFormatOptions, tag = lang) => {
    const built = late(() => new Intl.DateTimeFormat(tag, { timeZone, ...options }))
    return (time: number) => built().format(time)
  }
  const date = byMinute(format({ year: 'numeric', month: '2-digit', day: '2-digit' }, 'en-CA'))
  const dayNumber = (time: number) => Date.parse(date(time)) / DAY
  const hourMinute = { hour: '2-digit', minute: '2-digit' } as const
  const onClock = format(hourMinute)
  const inZone = format({ ...hourMinute, timeZoneName: 'short' })
  const clock = byMinute(time => {
    const shown = onClock(time)
    return [time - HOUR, time + HOUR].some(other => onClock(other) === shown) ? inZone(time) : shown
  })
  const weekday = format({ weekday: 'short' })
  const dayMonth = format({ day: 'numeric', month: 'short' })
  const dayMonthYear = format({ day: 'numeric', month: 'short', year: 'numeric' })
  const full = format({
    weekday: 'short',
    day: 'numeric',
    month: 'long',
    year: 'numeric',
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
  })
  const day = byMinute(format({ weekday: 'short', day: 'numeric', month: 'long' }))
  const month = format({ month: 'long' })
  const monthYear = format({ month: 'long', year: 'numeric' })
  const relative = late(() => new Intl.RelativeTimeFormat(lang, { style: 'short', numeric: 'auto' }))
  const numbers = ([0, 1] as const).map(digits =>
    late(() => new Intl.NumberFormat(lang, { minimumFractionDigits: digits, maximumFractionDigits: digits })),
  )
  const yearOf = (time: number) => date(time).slice(0, 4)
  const unit = (value: number, name: string) =>
    new Intl.NumberFormat(lang, { style: 'unit', unit: name, unitDisplay: name === 'day' ? 'long' : 'short' }).format(
      value,
    )
  return {
    clock,
    full,
    day,
    at(time, now) {
      const days = dayNumber(now) - dayNumber(time)
      if (days === 0) return clock(time)
      if (days > 0 && days < 7) return `${weekday(time)} ${clock(time)}`
      return yearOf(time) === yearOf(now) ? `${dayMonth(time)} ${clock(time)}` : `${dayMonthYear(time)}, ${clock(time)}`
    },
    date: (time, now) => (yearOf(time) === yearOf(now) ? dayMonth(time) : dayMonthYear(time)),
    month: (time, now) => (yearOf(time) === yearOf(now) ? month(time) : monthYear(time)),
    ago(time, now) {
      const past = now - time
      if (past < MINUTE) return relative().format(-Math.max(0, Math.floor(past / 1000)), 'second')
      if (past < HOUR) return relative().format(-Math.floor(past / MINUTE), 'minute')
      const days = dayNumber(now) - dayNumber(time)
      if (past < 18 * HOUR || days === 0) return relative().format(-Math.floor(past / HOUR), 'hour')
      return relative().format(-Math.max(1, days), 'day')
    },
    span(milliseconds) {
      const past = Math.max(0, milliseconds)
      if (past < MINUTE) return unit(Math.floor(past / 1000), 'second')
      if (past < HOUR) return unit(Math.floor(past / MINUTE), 'minute')
      if (past < 2 * DAY) return unit(Math.floor(past / HOUR), 'hour')
      return unit(Math.floor(past / DAY), 'day')
    },
    number: (value, digits = 0) => numbers[digits]!().format(value),
    percent: share => numbers[0]!().format(share < 1 ? Math.min(99, Math.round(share * 100)) : Math.round(share * 100)),
  }
}
