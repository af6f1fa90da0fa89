/** Doors and hatches in elevation, seen from outside. */
import type { Position } from '../../protocol/reading.ts'
import { type Away, corners, dots, gap, isAway, moved, onLeaf, panel, swung, takenLeaf } from './leaf.ts'
import { circle, type Path, type Pen, polyline, rectangle } from './shapes.ts'

const JAMB = 3
/** Width from which a door has four panels instead of two, which would clot from afar. */
const FOUR_PANELS = 36

/** Jambs and head; a door has no sill, it stands on the floor. */
const lining = (pen: Pen, width: number, height: number): readonly Path[] => [
  { pen: 'glass', d: rectangle(0, 0, width, height) },
  { pen, d: polyline([0, height], [0, 0], [width, 0], [width, height]) },
]

const threshold = (width: number, height: number): Path => ({
  pen: 'solid',
  d: rectangle(-2, height - 2, width + 4, 2),
})

function unseenDoor(position: Position, width: number, height: number, leaves: 1 | 2): readonly Path[] {
  if (position === 'no-word') return [...lining('unheard', width, height), ...dots(width / 2, height * 0.45, width)]
  const leaf = (width - 2 * JAMB) / leaves
  return [
    ...lining('taken', width, height),
    ...Array.from({ length: leaves }, (_, i) =>
      takenLeaf(JAMB + i * leaf, JAMB, leaf, height - JAMB, leaves === 1),
    ).flat(),
    ...(leaves === 2 ? takenLeaf(width / 2 - 7, height / 2 - 7, 14, 14, true).slice(2) : []),
  ]
}

/** Tall panels over short ones, hung on the left, opening inwards. */
export function door(position: Position, width: number, height: number): readonly Path[] {
  const inner = width - 2 * JAMB
  const tall = height - JAMB
  if (isAway(position)) {
    const leaf = swung(JAMB, JAMB, height, inner * 0.38, -tall * 0.08)
    return [
      ...lining('edge', width, height),
      ...gap(position, ...corners(JAMB, JAMB, inner, tall)),
      ...moved(
        position,
        leaf,
        position === 'open' && width >= FOUR_PANELS
          ? panel(leaf, 0.25, 0.1, 0.75, 0.52) + panel(leaf, 0.25, 0.62, 0.75, 0.88)
          : '',
      ),
      threshold(width, height),
    ]
  }
  if (position !== 'closed') return unseenDoor(position, width, height, 1)
  const leaf = corners(JAMB, JAMB, inner, tall)
  const panels: readonly (readonly [from: number, to: number])[] =
    width < FOUR_PANELS
      ? [[0.2, 0.8]]
      : [
          [0.14, 0.45],
          [0.55, 0.86],
        ]
  return [
    ...lining('edge', width, height),
    { pen: 'fine', d: rectangle(JAMB, JAMB, inner, tall) },
    {
      pen: 'fine',
      d: panels.map(([from, to]) => panel(leaf, from, 0.09, to, 0.53) + panel(leaf, from, 0.66, to, 0.91)).join(''),
    },
    { pen: 'solid', d: knob(width - JAMB - inner * 0.07, height * 0.61) },
    threshold(width, height),
  ]
}

const knob = (x: number, y: number) => circle(x, y, 1.5)

/** A pair of leaves opening inwards, glazed above, panelled below. */
export function doubleDoor(position: Position, width: number, height: number): readonly Path[] {
  const leaf = (width - 2 * JAMB) / 2
  const tall = height - JAMB
  if (isAway(position)) {
    const pair = (hinge: number, reach: number, away: Away) => {
      const one = swung(hinge, JAMB, height, reach, -tall * 0.08)
      return moved(away, one, away === 'open' ? polyline(onLeaf(one, 0, 0.58), onLeaf(one, 1, 0.58)) : '')
    }
    return [
      ...lining('edge', width, height),
      ...gap(position, ...corners(JAMB, JAMB, 2 * leaf, tall)),
      ...pair(JAMB, leaf * 0.45, position),
      ...pair(width - JAMB, -leaf * 0.45, position),
      threshold(width, height),
    ]
  }
  if (position !== 'closed') return unseenDoor(position, width, height, 2)
  const halves = [corners(JAMB, JAMB, leaf, tall), corners(JAMB + leaf, JAMB, leaf, tall)] as const
  return [
    ...lining('edge', width, height),
    { pen: 'fine', d: rectangle(JAMB, JAMB, leaf, tall) + rectangle(JAMB + leaf, JAMB, leaf, tall) },
    {
      pen: 'fine',
      d: halves.map(half => panel(half, 0.18, 0.08, 0.82, 0.56) + panel(half, 0.18, 0.66, 0.82, 0.92)).join(''),
    },
    { pen: 'solid', d: knob(width / 2 - 2.6, height * 0.63) + knob(width / 2 + 2.6, height * 0.63) },
    threshold(width, height),
  ]
}

/** A boarded lid on two ledges with a brace, hung at its head, lifting outwards. */
export function hatch(position: Position, width: number, height: number): readonly Path[] {
  const inner = width - 2 * JAMB
  const tall = height - 2 * JAMB
  const box = rectangle(0, 0, width, height)
  if (isAway(position)) {
    const lid = [
      [JAMB, JAMB],
      [width - JAMB, JAMB],
      [width + 2, height * 0.42],
      [-2, height * 0.42],
    ] as const
    return [
      { pen: 'glass', d: box },
      { pen: 'edge', d: box },
      ...gap(position, ...corners(JAMB, JAMB, inner, tall)),
      ...moved(
        position,
        lid,
        position === 'open' ? polyline([width * 0.12, height * 0.25], [width * 0.88, height * 0.25]) : '',
      ),
    ]
  }
  if (position === 'no-word')
    return [{ pen: 'glass', d: box }, { pen: 'unheard', d: box }, ...dots(width / 2, height / 2, width)]
  if (position === 'taken-closed')
    return [{ pen: 'glass', d: box }, { pen: 'taken', d: box }, ...takenLeaf(JAMB, JAMB, inner, tall, true)]
  const boards = [1, 2, 3].map(i => polyline([JAMB + (inner * i) / 4, JAMB], [JAMB + (inner * i) / 4, height - JAMB]))
  const upper = height * 0.27
  const lower = height * 0.73
  return [
    { pen: 'glass', d: box },
    { pen: 'edge', d: box },
    { pen: 'fine', d: rectangle(JAMB, JAMB, inner, tall) + boards.join('') },
    {
      pen: 'edge',
      d:
        polyline([JAMB, upper], [width - JAMB, upper]) +
        polyline([width - JAMB - 1.5, upper], [JAMB + 1.5, lower]) +
        polyline([JAMB, lower], [width - JAMB, lower]),
    },
  ]
}
