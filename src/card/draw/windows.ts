/** Windows in elevation, seen from outside: a plain one, a sash, a pair of casements, a sliding pair. */
import type { Position } from '../../protocol/reading.ts'
import { corners, dots, frame, gap, isAway, moved, onLeaf, swung, takenLeaf } from './leaf.ts'
import { type Path, polyline, rectangle } from './shapes.ts'

export const SILL = 3
const JAMB = 3

const sill = (width: number, height: number): Path => ({
  pen: 'solid',
  d: rectangle(-2, height - SILL, width + 4, SILL),
})

/** Frames of windows whose leaves are not seen: taken as closed (leaves as corners) or without a word (dots). */
function unseen(position: Position, width: number, height: number, leaves: 1 | 2): readonly Path[] {
  const deep = height - SILL
  if (position === 'no-word')
    return [
      ...frame('unheard', rectangle(0, 0, width, deep)),
      ...dots(width / 2, deep / 2, width),
      sillOutline(width, height),
    ]
  const inner = width - 2 * JAMB
  const leaf = inner / leaves
  return [
    ...frame('taken', rectangle(0, 0, width, deep)),
    ...Array.from({ length: leaves }, (_, i) =>
      takenLeaf(JAMB + i * leaf, JAMB, leaf, deep - 2 * JAMB, leaves === 1),
    ).flat(),
    ...(leaves === 2 ? takenLeaf(width / 2 - 7, deep / 2 - 7, 14, 14, true).slice(2) : []),
    sillOutline(width, height),
  ]
}

const sillOutline = (width: number, height: number): Path => ({
  pen: 'taken',
  d: rectangle(-2, height - SILL, width + 4, SILL),
})

/** One leaf hung on the left, opening inwards, four panes. */
export function plainWindow(position: Position, width: number, height: number): readonly Path[] {
  const deep = height - SILL
  const inner = width - 2 * JAMB
  const tall = deep - 2 * JAMB
  const bar = JAMB + tall * 0.4
  if (isAway(position)) {
    const leaf = swung(JAMB, JAMB, deep - JAMB, inner * 0.36, -tall * 0.09)
    return [
      ...frame('edge', rectangle(0, 0, width, deep)),
      ...gap(position, ...corners(JAMB, JAMB, inner, tall)),
      ...moved(position, leaf, position === 'open' ? polyline(onLeaf(leaf, 0, 0.4), onLeaf(leaf, 1, 0.4)) : ''),
      sill(width, height),
    ]
  }
  if (position !== 'closed') return unseen(position, width, height, 1)
  return [
    ...frame('edge', rectangle(0, 0, width, deep)),
    {
      pen: 'fine',
      d:
        rectangle(JAMB, JAMB, inner, tall) +
        polyline([width / 2, JAMB], [width / 2, deep - JAMB]) +
        polyline([JAMB, bar], [width - JAMB, bar]),
    },
    sill(width, height),
  ]
}

/** Two sashes, two panes each, horns under the meeting rail; the lower one rises behind the upper. */
export function sashWindow(position: Position, width: number, height: number): readonly Path[] {
  const deep = height - SILL
  const inner = width - 2 * JAMB
  const rail = JAMB + (deep - 2 * JAMB) * 0.48
  const middle = width / 2
  const horns = `M${JAMB} ${rail}q.4 3 2.2 3.6M${width - JAMB} ${rail}q-.4 3 -2.2 3.6`
  const upper = rectangle(JAMB, JAMB, inner, rail - JAMB) + polyline([middle, JAMB], [middle, rail])
  if (isAway(position)) {
    const lift = rail + 3
    return [
      ...frame('edge', rectangle(0, 0, width, deep)),
      ...gap(position, ...corners(JAMB, lift, inner, deep - JAMB - lift)),
      ...moved(position, corners(JAMB + 1, JAMB + 4, inner - 2, lift - JAMB - 4)),
      { pen: 'fine', d: position === 'open' ? upper : rectangle(JAMB, JAMB, inner, rail - JAMB) },
      sill(width, height),
    ]
  }
  if (position !== 'closed') return [...unseen(position, width, height, 1), ...meetingRail(position, width, rail)]
  return [
    ...frame('edge', rectangle(0, 0, width, deep)),
    {
      pen: 'fine',
      d:
        upper +
        horns +
        rectangle(JAMB, rail, inner, deep - JAMB - rail) +
        polyline([middle, rail], [middle, deep - JAMB]),
    },
    { pen: 'edge', d: polyline([JAMB, rail], [width - JAMB, rail]) },
    sill(width, height),
  ]
}

const meetingRail = (position: Position, width: number, rail: number): readonly Path[] =>
  position === 'taken-closed'
    ? [
        {
          pen: 'taken',
          d: polyline([JAMB, rail], [JAMB + 4, rail]) + polyline([width - JAMB - 4, rail], [width - JAMB, rail]),
        },
      ]
    : []

/** A pair of casements opening outwards; dashed lines run to the hinge side of each. */
export function casements(position: Position, width: number, height: number): readonly Path[] {
  const deep = height - SILL
  const tall = deep - 2 * JAMB
  const leaf = (width - 2 * JAMB) / 2
  if (isAway(position)) {
    const left = swung(JAMB, JAMB, deep - JAMB, leaf * 0.45, tall * 0.07)
    const right = swung(width - JAMB, JAMB, deep - JAMB, -leaf * 0.45, tall * 0.07)
    return [
      ...frame('edge', rectangle(0, 0, width, deep)),
      ...gap(position, ...corners(JAMB, JAMB, 2 * leaf, tall)),
      sill(width, height),
      ...moved(position, left),
      ...moved(position, right),
    ]
  }
  if (position !== 'closed') return unseen(position, width, height, 2)
  const centre = JAMB + tall / 2
  const v = (hinge: number, free: number) => polyline([free, JAMB], [hinge, centre], [free, deep - JAMB])
  return [
    ...frame('edge', rectangle(0, 0, width, deep)),
    { pen: 'fine', d: rectangle(JAMB, JAMB, leaf, tall) + rectangle(JAMB + leaf, JAMB, leaf, tall) },
    { pen: 'swing', d: v(JAMB, JAMB + leaf) + v(width - JAMB, JAMB + leaf) },
    sill(width, height),
  ]
}

/** Two panes; the right one slides to the left, as its arrow says. */
export function slidingWindow(position: Position, width: number, height: number): readonly Path[] {
  const deep = height - SILL
  const tall = deep - 2 * JAMB
  const leaf = (width - 2 * JAMB) / 2
  const arrow = (x: number, y: number, length: number) =>
    polyline([x + length / 2, y], [x - length / 2, y]) +
    polyline([x - length / 2 + 3, y - 3], [x - length / 2, y], [x - length / 2 + 3, y + 3])
  if (isAway(position)) {
    const pane = corners(JAMB + leaf * 0.22, JAMB + 2, leaf, tall - 4)
    const from = JAMB + leaf * 1.22
    return [
      ...frame('edge', rectangle(0, 0, width, deep)),
      ...gap(position, ...corners(from, JAMB, width - JAMB - from, tall)),
      { pen: 'fine', d: rectangle(JAMB, JAMB, leaf, tall) },
      ...moved(position, pane, position === 'open' ? arrow(JAMB + leaf * 0.72, deep / 2, leaf * 0.55) : ''),
      sill(width, height),
    ]
  }
  if (position !== 'closed') return unseen(position, width, height, 2)
  return [
    ...frame('edge', rectangle(0, 0, width, deep)),
    { pen: 'fine', d: rectangle(JAMB, JAMB, leaf, tall) + rectangle(JAMB + leaf - 1, JAMB + 2, leaf + 1, tall - 4) },
    { pen: 'fine', d: arrow(JAMB + leaf * 1.5, deep / 2, leaf * 0.55) },
    sill(width, height),
  ]
}
