/** What opened today on one side of the house, on the line under its ground. */
import { clamp } from '../../text/clamp.ts'
import { GROUND, TODAY } from './measure.ts'
import type { Elevation } from './plan.ts'
import { hatching, type Path, polyline, rectangle, type Shape, type Text } from './shapes.ts'

/** A local day up to now; times are milliseconds since the epoch. */
export interface Day {
  readonly from: number
  readonly now: number
  readonly to: number
  /** Hours of the local clock that have a tick, and when they are. */
  readonly hours: readonly { readonly hour: number; readonly at: number }[]
  /** In these nobody listened. */
  readonly deaf: readonly (readonly [from: number, to: number])[]
}

/** What opened on one side. */
export interface Opened {
  readonly times: readonly number[]
  /** From when to when a contact said that it was open; `to` is absent while it is open still. */
  readonly spans: readonly { readonly from: number; readonly to?: number }[]
}

const STROKE = 11
const BAR = 5
/** Width of a wall on which the hours are named beside the name of the side. */
const NAMED = 150

/** Baselines of the line and of what stands under it. */
export const baseOf = ({ wall }: Pick<Elevation, 'wall'>): number => wall.y + wall.height + GROUND + TODAY - 8

/** @param word - "today", said on the leftmost line alone; empty elsewhere */
export function drawToday(elevation: Elevation, day: Day, { times, spans }: Opened, word: string): readonly Shape[] {
  const { wall } = elevation
  const { from, now, to } = day
  const base = baseOf(elevation)
  const x = (time: number) => wall.x + (clamp(time, from, to) - from) * (wall.width / (to - from))
  const bars = (isStill: boolean) =>
    spans
      .filter(span => (span.to === undefined) === isStill)
      .map(span => rectangle(x(span.from), base - BAR, Math.max(1.5, x(span.to ?? now) - x(span.from)), BAR))
      .join('')
  const deaf = day.deaf.map(([a, b]) =>
    hatching(
      [
        [x(a), base - STROKE],
        [x(b), base - STROKE],
        [x(b), base],
        [x(a), base],
      ],
      5,
    ),
  )
  const paths: readonly Path[] = [
    { pen: 'grid', d: polyline([x(now), base], [x(to), base]) },
    { pen: 'expected', d: deaf.join('') },
    { pen: 'solid', d: bars(false) },
    { pen: 'open-void', d: bars(true) },
    { pen: 'sent', d: times.map(time => polyline([x(time), base - STROKE], [x(time), base])).join('') },
    {
      pen: 'axis',
      d:
        polyline([x(from), base + 3], [x(from), base], [x(now), base]) +
        day.hours.map(({ at }) => polyline([x(at), base], [x(at), base + 3])).join(''),
    },
    { pen: 'expected', d: polyline([x(now), base + 3], [x(now), base - STROKE - 1]) },
  ]
  const hours = day.hours
    .filter(({ hour }) => wall.width >= NAMED * 1.6 || (wall.width >= NAMED && hour > 6))
    .map(({ hour, at }): Text => ({ letter: 'small', x: x(at), y: base + 15, text: String(hour), anchor: 'middle' }))
  const label: Text = { letter: 'level', x: wall.x - 8, y: base + 1, text: word, anchor: 'end' }
  return [...paths.filter(({ d }) => d), ...hours, ...(word ? [label] : [])]
}
