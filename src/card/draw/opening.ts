/**
 * One opening: its joinery in the position that was read, the outline of its gravest doubt, and its tag.
 * The geometry alone tells the position (colour repeats it): a solid gap is open, a hatched gap with a dashed leaf was
 * opened and nobody has seen it shut, full joinery is closed, corners and a clock are taken as closed, dots are no word.
 */
import { type Doubt, POSITIONS, type Position } from '../../protocol/reading.ts'
import { KINDS, type Kind } from '../../register/types.ts'
import { door, doubleDoor, hatch } from './doors.ts'
import { drawDoubt, drawSpent, gravest } from './doubts.ts'
import { type Box, merge, type Path, pill, polygon, rectangle, type Shape, type Text } from './shapes.ts'
import { drawStep, type StepShown } from './step.ts'
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

/** Form of a tag: six corners for windows, round ends for doors, square for hatches. */
export const tagForm = (kind: Kind): 'pane' | 'leaf' | 'lid' =>
  kind === 'door' || kind === 'double-door' ? 'leaf' : kind === 'hatch' ? 'lid' : 'pane'

function tagOutline(kind: Kind, box: Box): string {
  const { x, y, width, height } = box
  const form = tagForm(kind)
  if (form === 'leaf') return pill(box)
  if (form === 'lid') return rectangle(x, y, width, height)
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

/** A tag with its text. */
export function drawTag(
  kind: Kind,
  position: Position,
  doubts: readonly Doubt[],
  text: string,
  box: Box,
): readonly Shape[] {
  const quiet = position === 'closed' || position === 'taken-closed' || position === 'no-word'
  const doubted = quiet && gravest(doubts) !== undefined
  const letter: Text['letter'] = doubted
    ? 'tag-text-doubt'
    : position === 'open'
      ? 'tag-text-open'
      : position === 'opened'
        ? 'tag-text-opened'
        : position === 'closed'
          ? 'tag-text'
          : 'tag-text-faint'
  return [
    { pen: doubted ? 'tag-doubt' : `tag-${position}`, d: tagOutline(kind, box) },
    { letter, x: box.x + box.width / 2, y: box.y + box.height / 2 + 4.2, text, anchor: 'middle' },
  ]
}

/** Whether an opening asks to be looked at, and so carries its tag even on a quiet sheet. */
export const isNoted = (position: Position, doubts: readonly Doubt[]) =>
  position === 'open' || position === 'opened' || position === 'no-word' || gravest(doubts) !== undefined

/** What is drawn of an opening beside its place. */
export interface Shown {
  readonly position: Position
  readonly doubts: readonly Doubt[]
  /** Of a cell that is to be changed next: the part of its sends that are gone, 0 to 1. */
  readonly spent?: number | undefined
  /** Its place in a walk. */
  readonly step?: StepShown | undefined
}

/** An opening as it stands on a page: `paths` in the coordinates of its own upper left corner, `tag` in those of the page. */
export function openingShapes(
  { kind, shape, tag }: { readonly kind: Kind; readonly shape: Box; readonly tag: Box & { readonly text: string } },
  { position, doubts, spent, step }: Shown,
  tags: 'noted' | 'all' = 'noted',
): { readonly paths: readonly Shape[]; readonly tag: readonly Shape[] } {
  const { width, height } = shape
  const doubt = gravest(doubts)
  const hasTag = step ? step.state === 'next' : tags === 'all' || isNoted(position, doubts)
  return {
    paths: [
      ...drawOpening(kind, position, width, height),
      ...(doubt ? drawDoubt(doubt, kind, width, height) : []),
      ...(spent === undefined ? [] : drawSpent(spent, width, height)),
      ...(step ? drawStep(step, width, height) : []),
    ],
    tag: hasTag ? drawTag(kind, position, doubts, tag.text, tag) : [],
  }
}
