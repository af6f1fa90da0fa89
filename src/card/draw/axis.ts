/** Axis of the hours of one local day, named in the reader's language. */

import { localOf, momentOf } from '../../text/time-zone.ts'
import { type Path, polyline, round, type Text } from './shapes.ts'

/** Where a time stands in a drawing; times are milliseconds since the epoch. */
export interface TimeScale {
  x(time: number): number
  readonly base: number
  readonly from: number
  readonly to: number
}

/** How an axis is divided and lettered. */
export interface AxisOptions {
  /** A moment of the day, or of the last month, that is shown: milliseconds since the epoch. */
  readonly at: number
  /** IANA name of the house's time zone. */
  readonly timezone: string
  readonly width: number
  /** BCP 47. */
  readonly locale?: string
}

export interface Axis {
  readonly paths: readonly Path[]
  readonly texts: readonly Text[]
}

/** Hours of the local clock, every third one named; an hour that the clock repeats or skips is as wide as it lasts. */
export function hours({ at, timezone, locale = 'en', width }: AxisOptions, { x, base, to }: TimeScale): Axis {
  const { year, month, day } = localOf(at, timezone)
  const every = width < 300 ? 6 : 3
  const name = new Intl.DateTimeFormat(locale, { timeZone: timezone, hour: 'numeric', hourCycle: 'h23' })
  const ticks: string[] = []
  const texts: Text[] = []
  for (let hour = 0; hour <= 24; hour++) {
    const time = Math.min(to, momentOf(timezone, year, month, day, hour))
    const named = hour % every === 0
    ticks.push(polyline([x(time), base], [x(time), base + (named ? 5 : 2.5)]))
    if (named)
      texts.push({
        letter: 'small',
        x: round(x(time)),
        y: base + 16,
        text: hour === 24 ? '24' : hourText(name, time),
        anchor: 'middle',
      })
  }
  return { paths: [{ pen: 'axis', d: ticks.join('') }], texts }
}

const hourText = (name: Intl.DateTimeFormat, time: number) =>
  name.formatToParts(time).find(({ type }) => type === 'hour')?.value ?? ''
