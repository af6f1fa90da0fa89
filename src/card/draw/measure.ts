/** Sizes of openings, tags and storeys for a given module `unit`: the width of a plain window, in pixels. */
import type { Kind, Roof } from '../../register/types.ts'

/** Width and height in units. All heads stand in one line; doors reach the floor. */
export const JOINERY = {
  window: { width: 1, height: 1.34 },
  sash: { width: 1, height: 1.42 },
  casement: { width: 1.24, height: 1.26 },
  sliding: { width: 1.5, height: 1.18 },
  door: { width: 1, height: 1.58 },
  'double-door': { width: 1.5, height: 1.58 },
  hatch: { width: 1.12, height: 1 },
} as const satisfies Record<Kind, { width: number; height: number }>

/** Height of the head of every opening above its floor, in units. */
export const HEAD = JOINERY.door.height
export const TAG = { height: 16, above: 4, letters: 12 } as const
/** Room for the outline of a doubt around a shape, and between two slots. */
export const OUTLINE = 4
export const SLOT_GAP = 5
export const ROOF_OVERHANG = 11
export const LEVEL_WIDTH = 24
/** Room for the name of a side under the ground, and for the line of its day above that name. */
export const CAPTION = 20
export const TODAY = 26
/** Letters that a tag may show: fewer where that makes the windows larger. */
export const LETTERS = [16, 8, 5] as const
export const GROUND = 8
const PAD = 3

/** Estimated width of a mark in the tag's lettering, on the generous side, plus the tag's ends. */
export function tagWidth(text: string): number {
  let ems = 0
  for (const letter of text) {
    if (/[MW]/.test(letter)) ems += 0.92
    else if (/[A-Z0-9…]/.test(letter)) ems += 0.66
    else if (/[-.iljt]/.test(letter)) ems += 0.4
    else ems += 0.6
  }
  return Math.round(Math.max(28, ems * TAG.letters + 11))
}

/** Keeps both ends of a long mark, more of the tail, where numbers stand: the whole one stands in the label that is read out. */
export function shorten(mark: string, letters: number): string {
  if (mark.length <= letters) return mark
  const head = Math.floor((letters - 1) / 3)
  return `${mark.slice(0, head)}…${mark.slice(mark.length - (letters - 1 - head))}`
}

/** A kind of a later version measures as a window. */
const joinery = (kind: Kind) => JOINERY[kind] ?? JOINERY.window

export const shapeWidth = (kind: Kind, unit: number) => joinery(kind).width * unit
export const shapeHeight = (kind: Kind, unit: number) => joinery(kind).height * unit

/** Width that one opening takes of its floor: shape with outline, or tag, whichever is wider. */
export const slotWidth = (kind: Kind, tag: number, unit: number) =>
  Math.max(shapeWidth(kind, unit) + 2 * OUTLINE, tag) + SLOT_GAP

export interface Storeys {
  readonly storey: number
  readonly roof: number
}

/** Least height of a storey and of the roof. */
export function storeys(unit: number, roof: Roof, roofHatch: boolean): Storeys {
  const storey = HEAD * unit + TAG.height + TAG.above + PAD
  if (roof === 'flat') return { storey, roof: 12 }
  const needed = roofHatch ? JOINERY.hatch.height * unit + TAG.height + TAG.above + PAD + OUTLINE + 2 : 0
  return { storey, roof: Math.max(0.62 * storey, needed) }
}

/** Horizontal inset of each end of a hip roof at `height` above the eaves. */
export const hipInset = (height: number) => height * 0.8
