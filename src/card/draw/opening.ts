/**
 * One opening: its joinery in the position that was read, the outline of its gravest doubt, and its tag.
 * The geometry alone tells the position (colour repeats it): a solid gap is open, a hatched gap with a dashed leaf was
 * opened and nobody has seen it shut, full joinery is closed, corners and a clock are taken as closed, dots are no word.
 */
import { type Doubt, POSITIONS, type Position } from '../../protocol/reading.ts'
import { KINDS, type Kind } from '../../register/types.ts'
import { door, doubleDoor, hatch } from './doors.ts'
import { OUTLINE } from './measure.ts'
import {
  type Box,
  merge,
  type Path,
  type Point,
  pill,
  polygon,
  polyline,
  rectangle,
  type Shape,
  type Text,
} from './shapes.ts'
import { casements, plainWindow, sashWindow, slidingWindow } from './windows.ts'

const DRAW = {
  window: plainWindow,
  sash: sashWindow,
  casement: casements,
  sliding: slidingWindow,
  door,
  'double-door': doubleDoor,
  hatch,
} as const satisfies Record<Kind, (position: Position, width: number, height: number) => readonly Path[]>

const kept = new Map<string, readonly Path[]>()

/**
 * The joinery with its upper left corner at 0, 0. Unknown kinds and positions (a newer register) read as `window` and
 * `no-word`. Leaves and sills reach at most 4 px beyond the box.
 */
export function drawOpening(kind: Kind, position: Position, width: number, height: number): readonly Path[] {
  const sure = KINDS.includes(kind) ? kind : 'window'
  const known = POSITIONS.includes(position) ? position : 'no-word'
  const key = `${sure} ${known} ${width.toFixed(2)} ${height.toFixed(2)}`
  let paths = kept.get(key)
  if (!paths) {
    if (kept.size > 500) kept.clear()
    paths = merge(DRAW[sure](known, width, height))
    kept.set(key, paths)
  }
  return paths
}

/** Gravest first: the one that is outlined. */
export const DOUBTS_BY_WEIGHT = [
  'spent',
  'twin',
  'faint',
  'silent',
  'overdue',
  'untested',
  'low',
  'reflash',
] as const satisfies readonly Doubt[]

export const gravest = (doubts: readonly Doubt[]): Doubt | undefined =>
  DOUBTS_BY_WEIGHT.find(doubt => doubts.includes(doubt))

/** Outline of one doubt around a shape of this size; each has a line of its own. */
export function drawDoubt(doubt: Doubt, kind: Kind, width: number, height: number): readonly Path[] {
  const m = OUTLINE
  const bottom = kind === 'door' || kind === 'double-door' ? height + 1 : height + m - 1
  const left = -m
  const right = width + m
  const around = (by: number) => rectangle(left + by, -m + by, width + 2 * (m - by), bottom + m - 2 * by)
  const mid = (bottom - m) / 2
  switch (doubt) {
    case 'untested':
      return [{ pen: 'doubt-dots', d: around(0) }]
    case 'faint':
      return [{ pen: 'doubt-dash', d: around(0) }]
    case 'twin':
      return [{ pen: 'doubt-line', d: around(-1) + around(1.6) }]
    case 'overdue':
      return [{ pen: 'doubt-dots', d: polyline([left, mid], [left, -m], [right, -m], [right, mid]) }]
    case 'low':
      return [{ pen: 'doubt-line', d: polyline([left, mid], [left, bottom], [right, bottom], [right, mid]) }]
    case 'spent': {
      const reach = 4
      const cross = ([x, y]: Point) =>
        polyline([x - reach / 2, y - reach / 2], [x + reach / 2, y + reach / 2]) +
        polyline([x - reach / 2, y + reach / 2], [x + reach / 2, y - reach / 2])
      return [
        {
          pen: 'doubt-line',
          d:
            around(0) +
            (
              [
                [left, -m],
                [right, -m],
                [right, bottom],
                [left, bottom],
              ] as const
            )
              .map(cross)
              .join(''),
        },
      ]
    }
    case 'silent': {
      const a = Math.min(width, height) * 0.28
      const corner = (x: number, y: number, dx: number, dy: number) =>
        polyline([x + dx * a, y], [x, y], [x, y + dy * a])
      return [
        {
          pen: 'doubt-line',
          d:
            corner(left, -m, 1, 1) +
            corner(right, -m, -1, 1) +
            corner(right, bottom, -1, -1) +
            corner(left, bottom, 1, -1),
        },
      ]
    }
    case 'reflash':
      return [{ pen: 'doubt-chain', d: around(0) }]
    default:
      return [{ pen: 'doubt-dots', d: around(0) }]
  }
}

/** Outline of a tag: six corners for windows, round ends for doors, square for hatches. */
function tagOutline(kind: Kind, box: Box): string {
  const { x, y, width, height } = box
  if (kind === 'door' || kind === 'double-door') return pill(box)
  if (kind === 'hatch') return rectangle(x, y, width, height)
  const nose = height * 0.36
  return polygon(
    [x + nose, y],
    [x + width - nose, y],
    [x + width, y + height / 2],
    [x + width - nose, y + height],
    [x + nose, y + height],
    [x, y + height / 2],
  )
}

/** A tag with its text; each doubt is a pip on its upper edge. */
export function drawTag(
  kind: Kind,
  position: Position,
  doubts: readonly Doubt[],
  text: string,
  box: Box,
): readonly Shape[] {
  const quiet = position === 'closed' || position === 'taken-closed' || position === 'no-word'
  const doubted = quiet && doubts.length > 0
  const letter: Text['letter'] = doubted
    ? 'tag-text-doubt'
    : position === 'open'
      ? 'tag-text-open'
      : position === 'opened'
        ? 'tag-text-opened'
        : position === 'closed'
          ? 'tag-text'
          : 'tag-text-faint'
  const pips = doubts
    .slice(0, 3)
    .map((_, i) => {
      const x = box.x + box.width - 8 - i * 6
      return polygon([x, box.y - 3], [x + 3, box.y], [x, box.y + 3], [x - 3, box.y])
    })
    .join('')
  return [
    { pen: doubted ? 'tag-doubt' : `tag-${position}`, d: tagOutline(kind, box) },
    ...(pips ? [{ pen: 'pip' as const, d: pips }] : []),
    { letter, x: box.x + box.width / 2, y: box.y + box.height / 2 + 4.2, text, anchor: 'middle' },
  ]
}

/** Whether an opening asks to be looked at, and so carries its tag even on a quiet sheet. */
export const isNoted = (position: Position, doubts: readonly Doubt[]) =>
  position === 'open' || position === 'opened' || position === 'no-word' || doubts.length > 0

/** An opening as it stands on a page: `paths` in the coordinates of its own upper left corner, `tag` in those of the page. */
export function openingShapes(
  { kind, shape, tag }: { readonly kind: Kind; readonly shape: Box; readonly tag: Box & { readonly text: string } },
  { position, doubts }: { readonly position: Position; readonly doubts: readonly Doubt[] },
  tags: 'noted' | 'all' = 'noted',
): { readonly paths: readonly Path[]; readonly tag: readonly Shape[] } {
  const doubt = gravest(doubts)
  const joinery = drawOpening(kind, position, shape.width, shape.height)
  return {
    paths: doubt ? [...joinery, ...drawDoubt(doubt, kind, shape.width, shape.height)] : joinery,
    tag: tags === 'all' || isNoted(position, doubts) ? drawTag(kind, position, doubts, tag.text, tag) : [],
  }
}
