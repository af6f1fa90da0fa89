/** Roofs in elevation: gable, hip and flat, with a restrained covering of slates. */

import { hipInset, ROOF_OVERHANG } from './measure.ts'
import type { Elevation } from './plan.ts'
import { type Box, type Path, type Point, polygon, polyline } from './shapes.ts'

const COURSE = 9
/** Depth of the boards along a gable. */
export const VERGE = 5

/** Roof over the eaves; a gable end has none but its verge. */
export function roof({ wall, form, roof, roofHeight, part, parts }: Elevation): readonly Path[] {
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

interface Gable {
  readonly apex: Point
  readonly left: Point
  readonly right: Point
}

/** Ends of the verge: the slope carried on past the wall. */
function gableOf({ x, y, width }: Box, roofHeight: number): Gable {
  const drop = (roofHeight / (width / 2)) * ROOF_OVERHANG
  return {
    apex: [x + width / 2, y - roofHeight],
    left: [x - ROOF_OVERHANG, y + drop],
    right: [x + width + ROOF_OVERHANG, y + drop],
  }
}

/** Boards along the two edges of a gable, over the wall. */
export function verge(wall: Box, roofHeight: number): readonly Path[] {
  const { apex, left, right } = gableOf(wall, roofHeight)
  return [
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
}
