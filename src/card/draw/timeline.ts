/** A contact's story on a scale of one local day or of the twelve months up to a moment. */

import { clamp } from '../../text/clamp.ts'
import { dayOf, localOf, momentOf } from '../../text/time-zone.ts'
import { type AxisOptions, hours, months, type TimeScale } from './axis.ts'
import { circle, hatching, merge, type Path, type Point, polygon, polyline, rectangle, type Text } from './shapes.ts'
import type { Moment, Story } from './story.ts'

export interface TimelineOptions extends AxisOptions {
  readonly scale: 'day' | 'year'
  readonly now: number
  readonly height?: number
}

export interface Timeline {
  readonly width: number
  readonly height: number
  readonly from: number
  readonly to: number
  /** Openings that fall in the stretch. */
  readonly openings: number
  readonly shapes: readonly (Path | Text)[]
}

const AXIS = 18
const EDGE = 14

/** @throws RangeError for a time zone that Intl does not know */
export function layoutTimeline(story: Story, options: TimelineOptions): Timeline {
  const { scale, at, timezone, width } = options
  const height = options.height ?? 72
  const { from, to } = scale === 'day' ? dayOf(at, timezone) : yearUpTo(at, timezone)
  const x = (time: number) => EDGE + ((clamp(time, from, to) - from) / (to - from)) * (width - 2 * EDGE)
  const base = height - AXIS
  const inside = story.moments.filter(moment => moment.at < to && (moment.until ?? moment.at) >= from)
  const timeScale = { x, base, from, to }
  const drawn =
    scale === 'day'
      ? dayShapes(story, inside, options.now, timeScale)
      : yearShapes(inside, timeScale, timezone, (width - 2 * EDGE) / 366)
  const axis = scale === 'day' ? hours(options, timeScale) : months(options, timeScale)
  const nowLine: readonly Path[] =
    options.now >= from && options.now < to
      ? [{ pen: 'now', d: polyline([x(options.now), 4], [x(options.now), base + 4]) }]
      : []
  return {
    width,
    height,
    from,
    to,
    openings: inside.filter(({ what }) => what === 'opening').length,
    shapes: [
      ...merge([...axis.paths, ...drawn, { pen: 'axis', d: polyline([x(from), base], [x(to), base]) }, ...nowLine]),
      ...axis.texts,
    ],
  }
}

function yearUpTo(at: number, timezone: string): { from: number; to: number } {
  const { year, month } = localOf(at, timezone)
  return { from: momentOf(timezone, year, month - 11, 1), to: momentOf(timezone, year, month + 1, 1) }
}

function dayShapes(
  story: Story,
  moments: readonly Moment[],
  now: number,
  { x, base, from, to }: TimeScale,
): readonly Path[] {
  const top = base - 20
  const seen = story.spans
    .map(span => ({ ...span, to: Math.min(span.to, now) }))
    .filter(span => span.to > from && span.from < to && span.from < span.to)
  const box = (a: number, b: number): readonly Point[] => [
    [a, top],
    [b, top],
    [b, base],
    [a, base],
  ]
  const solid = seen
    .filter(({ state }) => state === 'open')
    .map(span => rectangle(x(span.from), top, Math.max(1.5, x(span.to) - x(span.from)), base - top))
  const unseen = seen
    .filter(({ state }) => state === 'opened')
    .map(span => box(x(span.from), Math.max(x(span.from) + 1.5, x(span.to))))
  return [
    { pen: 'opened-void', d: unseen.map(points => hatching(points, 6)).join('') },
    { pen: 'opened-leaf', d: unseen.map(([a, b]) => polyline(a!, b!)).join('') },
    { pen: 'open-void', d: solid.join('') },
    ...moments.flatMap(moment =>
      momentMark(moment, x(moment.at), top, base, moment.until === undefined ? undefined : x(moment.until)),
    ),
  ]
}

function momentMark({ what }: Moment, x: number, top: number, base: number, until?: number): readonly Path[] {
  switch (what) {
    case 'opening':
      // where only an interval is known, a bracket over it
      if (until !== undefined)
        return [{ pen: 'sure', d: polyline([x, top - 2], [x, top - 7], [until, top - 7], [until, top - 2]) }]
      return [{ pen: 'sent', d: polyline([x, top - 10], [x, base]) }]
    case 'seen-shut':
      return [
        { pen: 'glass', d: circle(x, top - 6, 4.5) },
        {
          pen: 'edge',
          d: circle(x, top - 6, 4.5) + polyline([x - 2.2, top - 6], [x - 0.5, top - 4], [x + 2.4, top - 8.2]),
        },
      ]
    case 'cell':
      return [{ pen: 'solid', d: polygon([x, base - 1], [x - 4, base - 8], [x + 4, base - 8]) }]
    case 'failed':
      return [
        {
          pen: 'edge',
          d: polyline([x - 4, base - 10], [x + 4, base - 2]) + polyline([x - 4, base - 2], [x + 4, base - 10]),
        },
      ]
    case 'proved':
      return [{ pen: 'edge', d: circle(x, base - 5, 3) }]
  }
}

/** One bar a day that saw openings, as high as there were openings; marks of cells and tests under it. */
function yearShapes(
  moments: readonly Moment[],
  { x, base, from, to }: TimeScale,
  timezone: string,
  day: number,
): readonly Path[] {
  const byDay = new Map<number, number>()
  for (const { what, at } of moments) {
    if (what !== 'opening' || at < from || at >= to) continue
    const start = dayOf(at, timezone).from
    byDay.set(start, (byDay.get(start) ?? 0) + 1)
  }
  const most = Math.max(4, ...byDay.values())
  const room = base - 10
  const bars = [...byDay].map(([start, count]) =>
    rectangle(x(start), base - (room * count) / most, Math.max(1.6, day - 0.4), (room * count) / most),
  )
  return [
    { pen: 'solid', d: bars.join('') },
    ...moments.flatMap(moment =>
      moment.what === 'cell' || moment.what === 'failed' ? momentMark(moment, x(moment.at), base - 20, base) : [],
    ),
  ]
}
