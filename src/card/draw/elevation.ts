/** Walls, roof, floors and ground of one elevation as shapes; the openings are drawn over it. */
import type { Elevation } from './layout.ts'
import { CAPTION, GROUND, hipInset, ROOF_OVERHANG } from './measure.ts'
import { merge, type Path, type Point, polygon, polyline, type Shape, type Text } from './shapes.ts'

export interface ElevationWords {
  /** Name of the side as its caption, e.g. "South elevation"; a part of a cut side says so. */
  caption(elevation: Elevation): string
  /** Short name of a floor at its level mark. */
  level(floor: number): string
}

const COURSE = 9
const VERGE = 5

/** Everything of an elevation but its openings, in the coordinates of its page, back to front. */
export function drawElevation(elevation: Elevation, words: ElevationWords): readonly Shape[] {
  return [
    ...merge([...roof(elevation), ...walls(elevation), ...ground(elevation), ...levels(elevation)]),
    ...texts(elevation, words),
  ]
}

function walls({ wall, form, roof, roofHeight, part, parts, floors }: Elevation): readonly Path[] {
  const { x, y, width, height } = wall
  const base = y + height
  const gable = form === 'end' && roof === 'gable'
  const top: readonly Point[] = gable
    ? [
        [x, y],
        [x + width / 2, y - roofHeight + VERGE],
        [x + width, y],
      ]
    : [
        [x, y],
        [x + width, y],
      ]
  const left: Point = [x, base]
  const right: Point = [x + width, base]
  const isCutLeft = part > 0
  const isCutRight = part < parts - 1
  const outline =
    isCutLeft && isCutRight
      ? polyline(...top)
      : isCutLeft
        ? polyline(...top, right)
        : isCutRight
          ? polyline(left, ...top)
          : polyline(left, ...top, right)
  const storeyLines = floors
    .slice(1)
    .map(({ y }) => polyline([x, y], [x + width, y]))
    .join('')
  return [
    { pen: 'face', d: polygon(left, ...top, right) },
    { pen: 'course', d: storeyLines + polyline([x, base - 5], [x + width, base - 5]) },
    { pen: 'edge', d: outline },
    {
      pen: 'swing',
      d:
        (isCutLeft ? matchLine(x, y, base, roofHeight) : '') +
        (isCutRight ? matchLine(x + width, y, base, roofHeight) : ''),
    },
    ...(gable ? verge(elevation(wall, roofHeight)) : []),
  ]
}

/** A long side goes on on another sheet: a broken line with its zigzag. */
const matchLine = (x: number, eaves: number, base: number, roofHeight: number) => {
  const middle = (eaves + base) / 2
  return polyline(
    [x, eaves - roofHeight - 4],
    [x, middle - 8],
    [x - 5, middle - 3],
    [x + 5, middle + 3],
    [x, middle + 8],
    [x, base + 8],
  )
}

interface Gable {
  readonly apex: Point
  readonly left: Point
  readonly right: Point
}

/** Ends of the verge: the slope carried on past the wall. */
function elevation({ x, y, width }: Elevation['wall'], roofHeight: number): Gable {
  const drop = (roofHeight / (width / 2)) * ROOF_OVERHANG
  return {
    apex: [x + width / 2, y - roofHeight],
    left: [x - ROOF_OVERHANG, y + drop],
    right: [x + width + ROOF_OVERHANG, y + drop],
  }
}

const verge = ({ apex, left, right }: Gable): readonly Path[] => [
  {
    pen: 'slope',
    d: polygon(
      left,
      apex,
      right,
      [right[0], right[1] - 0.1],
      [right[0], right[1] + VERGE],
      [apex[0], apex[1] + VERGE],
      [left[0], left[1] + VERGE],
    ),
  },
  { pen: 'fine', d: polyline([left[0], left[1] + VERGE], [apex[0], apex[1] + VERGE], [right[0], right[1] + VERGE]) },
  { pen: 'edge', d: polyline([left[0], left[1] + VERGE], left, apex, right, [right[0], right[1] + VERGE]) },
]

function roof({ wall, form, roof, roofHeight, part, parts }: Elevation): readonly Path[] {
  const { x, y, width } = wall
  if (roof === 'gable' && form === 'end') return []
  const top = y - roofHeight
  const left = x - (part > 0 ? 0 : ROOF_OVERHANG)
  const right = x + width + (part < parts - 1 ? 0 : ROOF_OVERHANG)
  if (roof === 'flat') {
    const coping: readonly Point[] = [
      [left + 5, top],
      [right - 5, top],
      [right - 5, top + 4],
      [left + 5, top + 4],
    ]
    return [
      { pen: 'face', d: polygon([x, top + 4], [x + width, top + 4], [x + width, y], [x, y]) },
      { pen: 'edge', d: polyline([x, y], [x, top + 4]) + polyline([x + width, y], [x + width, top + 4]) },
      { pen: 'slope', d: polygon(...coping) },
      { pen: 'edge', d: polygon(...coping) },
    ]
  }
  const inset =
    roof === 'hip' ? (form === 'end' ? (right - left) / 2 : Math.min(hipInset(roofHeight), (right - left) / 2)) : 3
  const ridgeLeft = part > 0 ? left : left + inset
  const ridgeRight = part < parts - 1 ? right : right - inset
  const outline: readonly Point[] = [
    [left, y],
    [ridgeLeft, top],
    [ridgeRight, top],
    [right, y],
  ]
  return [
    { pen: 'slope', d: polygon(...outline) },
    { pen: 'course', d: slates(left, right, ridgeLeft, ridgeRight, top, y) },
    { pen: 'edge', d: polygon(...outline) },
    {
      pen: 'fine',
      d:
        polyline([left, y + 3.5], [right, y + 3.5]) +
        polyline([left, y], [left, y + 3.5]) +
        polyline([right, y], [right, y + 3.5]),
    },
  ]
}

/** Courses across the slope, and the upright joints of slates in a few patches only. */
function slates(
  left: number,
  right: number,
  ridgeLeft: number,
  ridgeRight: number,
  top: number,
  eaves: number,
): string {
  const courses = Math.max(2, Math.round((eaves - top) / COURSE))
  const step = (eaves - top) / courses
  let d = ''
  for (let row = 0; row < courses; row++) {
    const y = eaves - row * step
    const share = (eaves - y) / (eaves - top)
    const from = left + (ridgeLeft - left) * share
    const to = right + (ridgeRight - right) * share
    if (row > 0) d += polyline([from, y], [to, y])
    const slate = 11
    const first = Math.ceil((from - left) / slate) + 1
    for (let i = first; left + i * slate < to - slate; i++) {
      const wave = Math.sin(i * 0.43 + row * 0.9) + Math.sin(i * 0.19 - row * 0.37)
      if (wave < 1.25) continue
      const x = left + (i + (row % 2) / 2) * slate
      d += polyline([x, y], [x, y - step])
    }
  }
  return d
}

/** The ground: the heaviest line, and earth under it in groups of three strokes. */
function ground({ wall, cell }: Elevation): readonly Path[] {
  const y = wall.y + wall.height
  const from = Math.max(cell.x, wall.x - ROOF_OVERHANG - 12)
  const to = Math.min(cell.x + cell.width, wall.x + wall.width + ROOF_OVERHANG + 12)
  let earth = ''
  for (let x = from + 8; x + 14 < to; x += 38)
    for (let i = 0; i < 3; i++) earth += polyline([x + 6 + i * 4.5, y + 1], [x + i * 4.5, y + GROUND - 2])
  return [
    { pen: 'course', d: earth },
    { pen: 'cut', d: polyline([from, y], [to, y]) },
  ]
}

/** Level marks left of the wall: a small triangle standing on a tick. */
function levels({ wall, floors }: Elevation): readonly Path[] {
  const x = wall.x - ROOF_OVERHANG - 2
  const d = floors
    .slice(1)
    .map(({ y }) => polyline([x - 9, y], [x + 9, y]) + polygon([x, y], [x - 3, y - 5], [x + 3, y - 5]))
  return [{ pen: 'course', d: d.join('') }]
}

function texts(elevation: Elevation, words: ElevationWords): readonly Text[] {
  const { wall, floors } = elevation
  const x = wall.x - ROOF_OVERHANG - 6
  const caption: Text = {
    letter: 'caption',
    x: wall.x + wall.width / 2,
    y: wall.y + wall.height + GROUND + CAPTION - 8,
    text: words.caption(elevation),
    anchor: 'middle',
  }
  return [
    ...floors.map(({ floor, y }): Text => ({ letter: 'level', x, y: y - 8, text: words.level(floor), anchor: 'end' })),
    caption,
  ]
}
