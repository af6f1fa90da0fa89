/** The legend: the five positions and the seven doubts, drawn by the same functions as the wall. */
import { DOUBTS, type Doubt, POSITIONS, type Position } from '../../protocol/reading.ts'
import type { Kind } from '../../register/types.ts'
import { OUTLINE, shapeHeight, shapeWidth } from './measure.ts'
import { drawDoubt, drawOpening } from './opening.ts'
import type { Path } from './shapes.ts'

export type KeyEntry = ({ readonly position: Position } | { readonly doubt: Doubt }) & {
  readonly width: number
  readonly height: number
  /** In a box of `width` by `height`. */
  readonly paths: readonly Path[]
  /** Where the upper left corner of the paths belongs. */
  readonly x: number
  readonly y: number
}

/**
 * @param unit - width of a plain window, pixels
 * @param show - which entries: all of them without it
 */
export function keyEntries(
  unit = 20,
  kind: Kind = 'window',
  show?: { positions?: readonly Position[]; doubts?: readonly Doubt[] },
): readonly KeyEntry[] {
  const width = shapeWidth(kind, unit)
  const height = shapeHeight(kind, unit)
  const box = { width: width + 2 * (OUTLINE + 2), height: height + 2 * (OUTLINE + 2), x: OUTLINE + 2, y: OUTLINE + 2 }
  return [
    ...(show?.positions ?? POSITIONS).map(position => ({
      position,
      ...box,
      paths: drawOpening(kind, position, width, height),
    })),
    ...(show?.doubts ?? DOUBTS).map(doubt => ({
      doubt,
      ...box,
      paths: [...drawOpening(kind, 'closed', width, height), ...drawDoubt(doubt, kind, width, height)],
    })),
  ]
}
