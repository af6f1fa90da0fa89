import { sorted } from '../../text/lists.ts'
/**
 * Plain shape data of every drawing here: paths and texts with a named pen, no DOM.
 * A pen is a CSS class; the sheet's style (tokens.ts) gives it weight and colour.
 * Coordinates are CSS pixels, y down, rounded to 1/100.
 */

export const PENS = [
  'cut', // heaviest: ground, outline of the walls
  'edge', // medium: frames, leaves, roof
  'fine', // light: glazing bars, panels
  'swing', // light and dashed: lines towards the hinges
  'course', // lightest: slates, floor levels, ground hatch
  'face', // fill of a wall
  'slope', // fill of a roof
  'glass', // fill of a pane
  'solid', // fill in the colour of lines: sills, knobs
  'open-void', // solid fill where a leaf has moved away
  'open-leaf',
  'opened-void', // hatching where a leaf has moved away and nobody has seen it back
  'opened-leaf', // dashed
  'taken', // thin: taken as closed
  'unheard', // dotted frame: no word yet
  'unheard-dot', // fill
  'doubt-dots',
  'doubt-dash',
  'doubt-line',
  'tag-open',
  'tag-opened',
  'tag-closed',
  'tag-taken-closed',
  'tag-no-word',
  'tag-doubt',
  'tick', // heaviest: seen, heard
  'tick-sent', // dotted: said, and not answered yet
  'sent',
  'sure',
  'expected',
  'beyond',
  'axis',
  'grid',
  'curve',
  'now',
] as const
/** CSS class of a path. */
export type Pen = (typeof PENS)[number]

export const LETTERS = [
  'caption',
  'level',
  'small',
  'tag-text',
  'tag-text-open',
  'tag-text-opened',
  'tag-text-faint',
  'tag-text-doubt',
  'step-next', // on a solid disc
] as const
/** CSS class of a text. */
export type Lettering = (typeof LETTERS)[number]

export interface Path {
  readonly pen: Pen
  /** SVG path data. */
  readonly d: string
}
export interface Text {
  readonly letter: Lettering
  readonly x: number
  /** Baseline. */
  readonly y: number
  readonly text: string
  readonly anchor: 'start' | 'middle' | 'end'
}
export type Shape = Path | Text
export interface Box {
  readonly x: number
  readonly y: number
  readonly width: number
  readonly height: number
}
export type Point = readonly [x: number, y: number]

export const round = (value: number) => Math.round(value * 100) / 100

/** Closed polygon as path data. */
export const polygon = (...points: readonly Point[]) => `${polyline(...points)}Z`

/** Open line through points as path data. */
export function polyline(...points: readonly Point[]): string {
  let d = ''
  for (const point of points) d += `${d ? 'L' : 'M'}${round(point[0])} ${round(point[1])}`
  return d
}

export const rectangle = (x: number, y: number, width: number, height: number) =>
  polygon([x, y], [x + width, y], [x + width, y + height], [x, y + height])

export const circle = (cx: number, cy: number, r: number) =>
  `M${round(cx - r)} ${round(cy)}a${round(r)} ${round(r)} 0 1 0 ${round(2 * r)} 0a${round(r)} ${round(r)} 0 1 0 ${round(-2 * r)} 0Z`

/** Rectangle with round ends. */
export function pill({ x, y, width, height }: Box): string {
  const r = round(height / 2)
  const flat = round(width - height)
  return `M${round(x + height / 2)} ${round(y)}h${flat}a${r} ${r} 0 0 1 0 ${round(height)}h${-flat}a${r} ${r} 0 0 1 0 ${round(-height)}Z`
}

/**
 * Parallel lines at 45 degrees, rising to the right, clipped to a convex polygon.
 * @param spacing - distance along x between two lines, above 0
 */
export function hatching(points: readonly Point[], spacing: number): string {
  const sums = points.map(([x, y]) => x + y)
  const low = Math.ceil((Math.min(...sums) + spacing / 2) / spacing) * spacing
  let d = ''
  for (let sum = low; sum < Math.max(...sums); sum += spacing) {
    const hits: Point[] = []
    for (let i = 0; i < points.length; i++) {
      const [ax, ay] = points[i]!
      const [bx, by] = points[(i + 1) % points.length]!
      const from = ax + ay - sum
      const to = bx + by - sum
      if (from === to || from * to > 0) continue
      const share = from / (from - to)
      hits.push([ax + (bx - ax) * share, ay + (by - ay) * share])
    }
    const [left] = sorted(hits, (a, b) => a[0] - b[0])
    const right = sorted(hits, (a, b) => b[0] - a[0])[0]
    if (left && right && right[0] - left[0] > 0.5) d += polyline(left, right)
  }
  return d
}

/** Joins the paths of one pen into one, so that a drawing needs few elements; keeps the order of first use. */
export function merge(paths: readonly Path[]): readonly Path[] {
  const out: { pen: Pen; d: string }[] = []
  for (const path of paths) {
    const last = out.at(-1)
    if (last?.pen === path.pen) last.d += path.d
    else if (path.d) out.push({ pen: path.pen, d: path.d })
  }
  return out
}
