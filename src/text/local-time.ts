import { wallOf } from './time-zone.ts'

const DAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'] as const

/** A time on the house's own clocks: `Fri 2026-05-01 18:02`. */
export function localTime(iso: string, timeZone: string): string {
  const wall = new Date(wallOf(Date.parse(iso), timeZone))
  return `${DAYS[wall.getUTCDay()]} ${wall.toISOString().slice(0, 16).replace('T', ' ')}`
}

/** The time of day on the house's own clocks: `18:02:07`. */
export const clockTime = (iso: string, timeZone: string): string =>
  new Date(wallOf(Date.parse(iso), timeZone)).toISOString().slice(11, 19)
