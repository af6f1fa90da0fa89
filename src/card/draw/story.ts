/** The story of one opening, drawn: the day hour by hour, and thirteen months. */
import type { StoryNote } from '../../protocol/story.ts'
import { clamp } from '../../text/clamp.ts'
import { dayOf, localOf } from '../../text/time-zone.ts'
import { type AxisOptions, hours } from './axis.ts'
import {
  circle,
  hatching,
  merge,
  type Path,
  type Point,
  polygon,
  polyline,
  rectangle,
  type Shape,
  type Text,
} from './shapes.ts'

export interface StoryDrawing {
  readonly width: number
  readonly height: number
  /** Openings that fall in the stretch. */
  readonly openings: number
  readonly shapes: readonly Shape[]
}

export interface StoryOptions extends AxisOptions {
  /** The contact itself says when it is shut: until then it is open, and not only not seen shut. */
  readonly saysShut: boolean
}

const HEIGHT = 72
const AXIS = 18
const EDGE = 14
const BASE = HEIGHT - AXIS
const BAND = 20

/** The local day that holds `at`, up to then. @throws RangeError for a time zone that Intl does not know */
export function drawDay(story: StoryNote, options: StoryOptions): StoryDrawing {
  const { at: now, timezone, width, saysShut } = options
  const { from, to } = dayOf(now, timezone)
  const x = (time: number) => EDGE + ((clamp(time, from, to) - from) / (to - from)) * (width - 2 * EDGE)
  const top = BASE - BAND
  const band = (a: number, b: number): readonly Point[] => [
    [x(a), top],
    [Math.max(x(a) + 1.5, x(b)), top],
    [Math.max(x(a) + 1.5, x(b)), BASE],
    [x(a), BASE],
  ]
  const isSeen = ([a, b]: readonly [number, number]) => b > from && a < now && b > a
  const spans = spansOf(story, now).filter(isSeen)
  const deaf = (story.unheard ?? []).map(([a, b]) => [Date.parse(a), Date.parse(b)] as const).filter(isSeen)
  const opened = story.openings.filter(([a, until = a]) => Date.parse(until ?? a) >= from && Date.parse(a) <= now)
  const shuts = new Set(story.openings.flatMap(([, , shutAt]) => (shutAt ? [Date.parse(shutAt)] : [])))
  const cells = story.cells.map(({ fitted }) => Date.parse(fitted))
  const axis = hours(options, { x, base: BASE, from, to })
  return {
    width,
    height: HEIGHT,
    openings: opened.length,
    shapes: [
      ...merge([
        ...axis.paths,
        { pen: 'expected', d: deaf.map(([a, b]) => hatching(band(a, b), 5)).join('') },
        ...spans.map(([a, b]): Path => {
          const box = band(a, Math.min(b, now))
          return saysShut ? { pen: 'open-void', d: polygon(...box) } : { pen: 'opened-void', d: hatching(box, 6) }
        }),
        ...opened.map(([a, until]): Path => stroke(x(Date.parse(a)), until ? x(Date.parse(until)) : undefined, top)),
        ...[...shuts].filter(time => time >= from && time <= now).map(time => seen(x(time), top)),
        {
          pen: 'solid',
          d: cells
            .filter(time => time >= from && time < to)
            .map(time => cell(x(time), BASE - 8))
            .join(''),
        },
        { pen: 'axis', d: polyline([x(from), BASE], [x(to), BASE]) },
        { pen: 'now', d: polyline([x(now), 4], [x(now), BASE + 4]) },
      ]),
      ...axis.texts,
    ],
  }
}

/** From each opening to when it was next known shut, else to now; those that run into each other are one. */
export function spansOf({ openings }: StoryNote, now: number): readonly (readonly [number, number])[] {
  const spans: [number, number][] = []
  for (const [at, until, shutAt] of openings) {
    const [from, to] = [Date.parse(until ?? at), shutAt ? Date.parse(shutAt) : now]
    const last = spans.at(-1)
    if (last && from <= last[1]) last[1] = Math.max(last[1], to)
    else spans.push([from, to])
  }
  return spans
}

/** An opening; where only an interval is known, a bracket over it. */
const stroke = (x: number, until: number | undefined, top: number): Path =>
  until === undefined
    ? { pen: 'sent', d: polyline([x, top - 10], [x, BASE]) }
    : { pen: 'sure', d: polyline([x, top - 2], [x, top - 7], [until, top - 7], [until, top - 2]) }

const seen = (x: number, top: number): Path => ({
  pen: 'edge',
  d: circle(x, top - 6, 4.5) + polyline([x - 2.2, top - 6], [x - 0.5, top - 4], [x + 2.4, top - 8.2]),
})

const cell = (x: number, y: number): string => polygon([x, y], [x - 4, y + 7], [x + 4, y + 7])

/** Shares of a month below this are not hatched: the story rounds them. */
const LEAST_SHARE = 0.02

/** A bar a month, as high as there were openings, with their number; hatched as far as nobody listened. */
export function drawMonths(story: StoryNote, { at: now, timezone, width, locale }: AxisOptions): StoryDrawing {
  const { months } = story
  const column = (width - 2 * EDGE) / Math.max(1, months.length)
  const [gap, top] = [3, 16]
  const most = Math.max(4, ...months.map(({ openings }) => openings))
  const name = new Intl.DateTimeFormat(locale, { timeZone: 'UTC', month: column < 36 ? 'narrow' : 'short' })
  const paths: Path[] = []
  const texts: Text[] = []
  for (const [index, { month, openings, listened }] of months.entries()) {
    const left = EDGE + index * column + gap / 2
    const [room, middle] = [column - gap, left + (column - gap) / 2]
    const high = ((BASE - top) * openings) / most
    const deaf = passed(month, now, timezone) - listened
    if (deaf > LEAST_SHARE) {
      const right = left + room * deaf
      paths.push({
        pen: 'expected',
        d: hatching(
          [
            [left, top],
            [right, top],
            [right, BASE],
            [left, BASE],
          ],
          6,
        ),
      })
    }
    if (openings > 0) {
      paths.push({ pen: 'solid', d: rectangle(middle - room / 4, BASE - high, room / 2, high) })
      texts.push({ letter: 'small', x: middle, y: BASE - high - 4, text: String(openings), anchor: 'middle' })
    }
    paths.push({ pen: 'axis', d: polyline([left, BASE], [left + room, BASE]) })
    const day = Date.parse(`${month}-15T00:00:00Z`)
    texts.push({ letter: 'small', x: middle, y: BASE + 16, text: name.format(day), anchor: 'middle' })
  }
  const fitted = story.cells.flatMap(({ fitted: time }) => {
    const index = months.findIndex(({ month }) => time.startsWith(month))
    const share = (Number(time.slice(8, 10)) - 0.5) / 31
    return index < 0 ? [] : [cell(EDGE + (index + share) * column, BASE)]
  })
  return {
    width,
    height: HEIGHT,
    openings: months.reduce((sum, { openings }) => sum + openings, 0),
    shapes: [...merge([...paths, { pen: 'solid', d: fitted.join('') }]), ...texts],
  }
}

/** The part of a month that is over. */
function passed(month: string, now: number, timezone: string): number {
  const local = localOf(now, timezone)
  const present = `${String(local.year).padStart(4, '0')}-${String(local.month).padStart(2, '0')}`
  if (month !== present) return month < present ? 1 : 0
  const days = new Date(Date.UTC(local.year, local.month, 0)).getUTCDate()
  return (local.day - 1 + local.hour / 24) / days
}
