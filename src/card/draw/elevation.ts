/** Walls, roof, floors and ground of one elevation as shapes; the openings are drawn over it. */

import { CAPTION, GROUND, ROOF_OVERHANG } from './measure.ts'
import type { Elevation } from './plan.ts'
import { roof, VERGE, verge } from './roof.ts'
import { merge, type Path, type Point, polygon, polyline, type Shape, type Text } from './shapes.ts'
import { baseOf } from './today.ts'

export interface ElevationWords {
  /** Name of the side under it; a part of a cut side says so. */
  caption(elevation: Elevation): string
  /** Short name of a floor at its level mark. */
  level(floor: number): string
}

/** Everything of an elevation but its openings, in the coordinates of its page, back to front. */
/** @param hasToday - the line of the day stands between ground and name */
export function drawElevation(elevation: Elevation, words: ElevationWords, hasToday = false): readonly Shape[] {
  return [
    ...merge([...roof(elevation), ...walls(elevation), ...ground(elevation), ...levels(elevation)]),
    ...texts(elevation, words, hasToday),
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
    ...(gable ? verge(wall, roofHeight) : []),
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
function levels({ wall, floors, isFirst }: Elevation): readonly Path[] {
  if (!isFirst) return []
  const x = wall.x - ROOF_OVERHANG - 2
  const d = floors
    .slice(1)
    .map(({ y }) => polyline([x - 9, y], [x + 9, y]) + polygon([x, y], [x - 3, y - 5], [x + 3, y - 5]))
  return [{ pen: 'course', d: d.join('') }]
}

function texts(elevation: Elevation, words: ElevationWords, hasToday: boolean): readonly Text[] {
  const { wall, floors, isFirst } = elevation
  const x = wall.x - ROOF_OVERHANG - 6
  const text = words.caption(elevation)
  const caption: Text = hasToday
    ? { letter: 'caption', x: wall.x, y: baseOf(elevation) + 15, text, anchor: 'start' }
    : {
        letter: 'caption',
        x: wall.x + wall.width / 2,
        y: wall.y + wall.height + GROUND + CAPTION - 8,
        text,
        anchor: 'middle',
      }
  return [
    ...(isFirst ? floors : []).map(
      ({ floor, y }): Text => ({ letter: 'level', x, y: y - 8, text: words.level(floor), anchor: 'end' }),
    ),
    caption,
  ]
}
