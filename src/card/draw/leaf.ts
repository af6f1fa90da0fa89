/** Pieces of joinery shared by the kinds: leaves that swing, slide or rise, in the line that their position asks for. */
import type { Position } from '../../protocol/reading.ts'
import { circle, hatching, type Path, type Pen, type Point, polygon, polyline, rectangle } from './shapes.ts'

/** A position in which the leaf stands away from its frame. */
export type Away = Extract<Position, 'open' | 'opened'>
export const isAway = (position: Position): position is Away => position === 'open' || position === 'opened'

const HATCH_SPACING = 5.4

/** What is seen where the leaf was: solid when open, hatched when nobody has seen it shut. */
export const gap = (position: Away, ...points: Point[]): readonly Path[] =>
  position === 'open'
    ? [{ pen: 'open-void', d: polygon(...points) }]
    : [
        { pen: 'glass', d: polygon(...points) },
        { pen: 'opened-void', d: hatching(points, HATCH_SPACING) },
      ]

/** A leaf that has moved, with the lines on it. */
export const moved = (position: Away, outline: readonly Point[], lines = ''): readonly Path[] => [
  { pen: 'glass', d: polygon(...outline) },
  { pen: position === 'open' ? 'open-leaf' : 'opened-leaf', d: polygon(...outline) + lines },
]

export const corners = (x: number, y: number, width: number, height: number): readonly [Point, Point, Point, Point] => [
  [x, y],
  [x + width, y],
  [x + width, y + height],
  [x, y + height],
]

/**
 * A leaf swung about an upright edge, as seen from outside.
 * @param hinge - x of the hinge side
 * @param reach - signed width that is still seen, positive to the right
 * @param rise - how much the free edge is longer (towards the viewer, positive) or shorter at each end
 */
export const swung = (
  hinge: number,
  top: number,
  bottom: number,
  reach: number,
  rise: number,
): readonly [Point, Point, Point, Point] => [
  [hinge, top],
  [hinge + reach, top - rise],
  [hinge + reach, bottom + rise],
  [hinge, bottom],
]

/** Point on a swung leaf: `u` from hinge to free edge, `v` from top to bottom, both 0 to 1. */
export function onLeaf([a, b, c, d]: readonly [Point, Point, Point, Point], u: number, v: number): Point {
  const x = a[0] + (b[0] - a[0]) * u
  const top = a[1] + (b[1] - a[1]) * u
  const bottom = d[1] + (c[1] - d[1]) * u
  return [x, top + (bottom - top) * v]
}

/** A panel on a swung leaf. */
export const panel = (leaf: readonly [Point, Point, Point, Point], u0: number, v0: number, u1: number, v1: number) =>
  polygon(onLeaf(leaf, u0, v0), onLeaf(leaf, u1, v0), onLeaf(leaf, u1, v1), onLeaf(leaf, u0, v1))

/** A leaf that is only taken to be there: its corners, and a clock, since time alone says so. */
export function takenLeaf(x: number, y: number, width: number, height: number, clock: boolean): readonly Path[] {
  const a = Math.min(width, height) * 0.2
  const [tl, tr, br, bl] = corners(x, y, width, height)
  const corner = ([px, py]: Point, dx: number, dy: number) => polyline([px + dx * a, py], [px, py], [px, py + dy * a])
  return [
    { pen: 'glass', d: rectangle(x, y, width, height) },
    { pen: 'taken', d: corner(tl, 1, 1) + corner(tr, -1, 1) + corner(br, -1, -1) + corner(bl, 1, -1) },
    ...(clock ? clockFace(x + width / 2, y + height / 2, Math.min(6, width * 0.3)) : []),
  ]
}

export const clockFace = (x: number, y: number, r: number): readonly Path[] => [
  { pen: 'glass', d: circle(x, y, r) },
  { pen: 'taken', d: circle(x, y, r) + polyline([x, y - r * 0.62], [x, y], [x + r * 0.45, y + r * 0.28]) },
]

/** Nothing is known of the leaf: three dots where it would be. */
export function dots(x: number, y: number, width: number): readonly Path[] {
  const r = Math.min(2, width / 14)
  const step = Math.min(7, width / 4)
  return [{ pen: 'unheard-dot', d: circle(x - step, y, r) + circle(x, y, r) + circle(x + step, y, r) }]
}

export const frame = (pen: Pen, d: string): readonly Path[] => [
  { pen: 'glass', d },
  { pen, d },
]
