/** The forecast of one cell: chance that it gives so many sends in all, and where the house's own cells ended. */
import { circle, merge, type Path, type Point, polyline, type Text } from './shapes.ts'

export interface CurvePoint {
  /** The n-th send of a cell. */
  readonly sends: number
  /** Chance that it gets through, 0 to 1. */
  readonly chance: number
}
export interface HouseCell {
  readonly sends: number
  /** False: changed early or still running. */
  readonly died: boolean
}
export interface CurveFacts {
  /** In ascending order of `sends`. */
  readonly points: readonly CurvePoint[]
  readonly cells: readonly HouseCell[]
  /** Sends of the present cell. */
  readonly sends: number
}
export interface CurveWords {
  /** Under the x axis. */
  readonly axis: string
}
export interface Curve {
  readonly width: number
  readonly height: number
  readonly shapes: readonly (Path | Text)[]
}

const LEFT = 36
const RIGHT = 10
const TOP = 16
const BOTTOM = 34

/** @throws RangeError when a chance is outside 0 to 1 or sends are negative */
export function layoutCurve(facts: CurveFacts, width: number, height: number, words: CurveWords, locale = 'en'): Curve {
  for (const { sends, chance } of facts.points)
    if (!(chance >= 0 && chance <= 1 && sends >= 0))
      throw new RangeError(`point at ${sends} sends has a chance of ${chance}: needs 0 to 1`)
  const last = Math.max(
    1,
    facts.sends,
    ...facts.points.map(({ sends }) => sends),
    ...facts.cells.map(({ sends }) => sends),
  )
  const x = (sends: number) => LEFT + (sends / last) * (width - LEFT - RIGHT)
  const y = (chance: number) => TOP + (1 - chance) * (height - TOP - BOTTOM)
  const percent = new Intl.NumberFormat(locale, { style: 'percent' })
  const step = niceStep(last, (width - LEFT - RIGHT) / 44)
  const ticks = Array.from({ length: Math.floor(last / step) + 1 }, (_, i) => i * step)
  const levels = [0, 0.5, 1]
  const paths: Path[] = [
    { pen: 'grid', d: levels.map(level => polyline([LEFT, y(level)], [width - RIGHT, y(level)])).join('') },
    ...(facts.points.length > 1
      ? [
          {
            pen: 'curve' as const,
            d: polyline(...facts.points.map(({ sends, chance }): Point => [x(sends), y(chance)])),
          },
        ]
      : []),
    {
      pen: 'axis',
      d:
        polyline([LEFT, y(0)], [width - RIGHT, y(0)]) +
        ticks.map(tick => polyline([x(tick), y(0)], [x(tick), y(0) + 4])).join(''),
    },
    ...cellMarks(facts.cells, x, TOP - 8),
    { pen: 'now', d: polyline([x(facts.sends), TOP - 2], [x(facts.sends), y(0)]) },
  ]
  const texts: Text[] = [
    ...levels.map(
      (level): Text => ({ letter: 'small', x: LEFT - 5, y: y(level) + 4, text: percent.format(level), anchor: 'end' }),
    ),
    ...ticks.map((tick): Text => ({ letter: 'small', x: x(tick), y: y(0) + 15, text: String(tick), anchor: 'middle' })),
    { letter: 'small', x: (LEFT + width - RIGHT) / 2, y: height - 4, text: words.axis, anchor: 'middle' },
  ]
  return { width, height, shapes: [...merge(paths), ...texts] }
}

/** Cells of the house over the curve: a cross where one died, a ring where one was changed early or still runs. */
function cellMarks(cells: readonly HouseCell[], x: (sends: number) => number, top: number): readonly Path[] {
  const stacked = new Map<number, number>()
  return cells.map(({ sends, died }): Path => {
    const level = stacked.get(sends) ?? 0
    stacked.set(sends, level + 1)
    const cx = x(sends)
    const cy = top + level * 8
    return died
      ? { pen: 'sent', d: polyline([cx - 3, cy - 3], [cx + 3, cy + 3]) + polyline([cx - 3, cy + 3], [cx + 3, cy - 3]) }
      : { pen: 'sure', d: circle(cx, cy, 3) }
  })
}

/** 1, 2 or 5 times a power of ten, so that at most `most` steps fit. */
function niceStep(last: number, most: number): number {
  const least = last / Math.max(1, most)
  const power = 10 ** Math.floor(Math.log10(least))
  return Math.max(1, [1, 2, 5, 10].map(n => n * power).find(step => step >= least) ?? 1)
}
