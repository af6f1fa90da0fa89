/**
 * From the facts of a house to places on paper: which sides stand on which page, how large, and where each opening and
 * its tag go. Pure: the same house and the same area always give the same places. All lengths are CSS pixels.
 */
import type { Kind, Place, Roof } from '../../register/types.ts'
import {
  CELL_GAP,
  cellHeight,
  columnWidths,
  easyWall,
  largestFit,
  leastWall,
  roofHatch,
  rowInset,
  SIDE_ROOM,
} from './fit.ts'
import {
  CAPTION,
  GROUND,
  HEAD,
  JOINERY,
  LEVEL_WIDTH,
  OUTLINE,
  ROOF_OVERHANG,
  type Storeys,
  shapeHeight,
  shapeWidth,
  shorten,
  slotWidth,
  storeys,
  TAG,
  tagWidth,
} from './measure.ts'
import { spread } from './place.ts'
import type { Box } from './shapes.ts'
import type { Row, Stretch } from './stretch.ts'

/** What the drawing needs of a register; a whole `Register` and the register on the broker both are one. */
export interface House {
  readonly sides: readonly string[]
  readonly floors: number
  readonly roof: Roof
  readonly openings: readonly { readonly mark: string; readonly kind: Kind; readonly at?: Place | undefined }[]
}

export interface Area {
  readonly width: number
  /** Absent: as high as needed, all on one page. */
  readonly height?: number
  /** Least width of a window; below it sides go to further pages. Default 26: 5 minutes of arc at 3 m on a 10-inch tablet. */
  readonly minShape?: number
  /** Greatest width of a window. Default 64. */
  readonly maxShape?: number
}

export interface OpeningPlace {
  readonly mark: string
  readonly kind: Kind
  readonly floor: number
  /** A hatch in the slope of the roof. */
  readonly inRoof: boolean
  /** The joinery itself; the outline of a doubt reaches 4 px beyond it. */
  readonly shape: Box
  readonly tag: Box & { readonly text: string }
  /** What a finger may hit: at least 44 px each way where the neighbours leave it. Never overlaps another. */
  readonly hit: Box
}

export interface Elevation {
  readonly side: string
  /** Place of the side in the register's `sides`. */
  readonly index: number
  /** `long`: the eaves are seen; `end`: the gable or the hip end. */
  readonly form: 'long' | 'end'
  readonly roof: Roof
  /** A side too long for one sheet is cut at match lines; 0 of 1 otherwise. */
  readonly part: number
  readonly parts: number
  /** All that the elevation takes on its page, caption included. */
  readonly cell: Box
  /** The walls, from ground to eaves. */
  readonly wall: Box
  readonly roofHeight: number
  /** From the ground floor up; `y` is the level of the floor. */
  readonly floors: readonly { readonly floor: number; readonly y: number }[]
  readonly openings: readonly OpeningPlace[]
}

export interface Page {
  readonly elevations: readonly Elevation[]
}

export interface Layout {
  readonly width: number
  readonly height: number
  readonly pages: readonly Page[]
  /** Width of a plain window. */
  readonly shape: number
  /** True when even the best layout stays under `minShape`: let the schedule take over. */
  readonly cramped: boolean
  /** Marks without a place: they stand in the schedule alone. */
  readonly unplaced: readonly string[]
}

/** @throws RangeError when a width or height is negative or not finite */
export function layoutHouse(house: House, area: Area): Layout {
  for (const [name, value] of [['width', area.width] as const, ['height', area.height ?? 0] as const])
    if (!Number.isFinite(value) || value < 0) throw new RangeError(`${name} is ${value}: needs a length of 0 or more`)
  const least = area.minShape ?? 26
  const unplaced = house.openings.filter(({ at }) => !at || !house.sides.includes(at.side)).map(({ mark }) => mark)
  const best = largestFit(house, area, least, area.maxShape ?? 64)
  if (!best) return { width: area.width, height: area.height ?? 0, pages: [], shape: 0, cramped: false, unplaced }
  const { unit, letters, columns, pages } = best
  const height = area.height ?? best.height
  const rows = Math.ceil(pages[0]!.length / columns)
  const hatch = pages.some(roofHatch)
  return {
    width: area.width,
    height,
    pages: pages.map(stretches => ({
      elevations: page(house, stretches, { width: area.width, height, unit, letters, columns, rows, hatch }),
    })),
    shape: unit,
    cramped: unit < least - 1e-6,
    unplaced,
  }
}

interface Sheet {
  readonly width: number
  readonly height: number
  readonly unit: number
  readonly letters: number
  readonly columns: number
  readonly rows: number
  readonly hatch: boolean
}

/** How far a storey or a roof may grow where the sheet leaves room. */
const GROWTH = 1.3

function page(house: House, stretches: readonly Stretch[], sheet: Sheet): readonly Elevation[] {
  const { unit, letters } = sheet
  const columns = Math.min(sheet.columns, stretches.length)
  const cell = (sheet.height - (sheet.rows - 1) * CELL_GAP) / sheet.rows
  const least = storeys(unit, house.roof, sheet.hatch)
  const growth = Math.min(
    GROWTH,
    1 + (cell - cellHeight(least, house.floors)) / (least.roof + house.floors * least.storey),
  )
  const grown: Storeys =
    growth > 1
      ? { storey: least.storey * growth, roof: house.roof === 'flat' ? least.roof : least.roof * growth }
      : least
  const wants = stretches.map(({ form, rows }) => {
    return Math.max(leastWall(house, rows, unit, letters), easyWall(house, form, grown.storey))
  })
  const widths = widen(columnWidths(house, stretches, columns, unit, letters), wants, columns, sheet.width)
  return stretches.map((stretch, i) => {
    const column = i % columns
    const x = widths.slice(0, column).reduce((sum, width) => sum + width + CELL_GAP, 0)
    const y = Math.floor(i / columns) * (cell + CELL_GAP)
    const box = { x, y, width: widths[column]!, height: cell }
    return elevation(house, stretch, box, Math.min(wants[i]!, box.width - SIDE_ROOM), grown, sheet)
  })
}

/** Shares the spare width: up to what the walls want first, then evenly. */
function widen(least: readonly number[], wants: readonly number[], columns: number, width: number): number[] {
  const aims = least.map((each, column) =>
    Math.max(each, ...wants.filter((_, i) => i % columns === column).map(want => want + SIDE_ROOM)),
  )
  const sum = (values: readonly number[]) => values.reduce((a, b) => a + b, 0)
  const spare = Math.max(0, width - sum(least) - (columns - 1) * CELL_GAP)
  const lack = sum(aims) - sum(least)
  const share = lack > 0 ? Math.min(1, spare / lack) : 0
  const rest = (spare - share * lack) / columns
  return least.map((each, i) => each + share * (aims[i]! - each) + rest)
}

function elevation(
  house: House,
  stretch: Stretch,
  cell: Box,
  wallWidth: number,
  size: Storeys,
  sheet: Sheet,
): Elevation {
  const used = cellHeight(size, house.floors)
  const ground = cell.y + (cell.height + used) / 2 - CAPTION - GROUND
  const x = cell.x + (cell.width - SIDE_ROOM - wallWidth) / 2 + LEVEL_WIDTH + ROOF_OVERHANG
  const eaves = ground - house.floors * size.storey
  const wall = { x, y: eaves, width: wallWidth, height: ground - eaves }
  const inset = rowInset(house, sheet.unit) / 2
  const openings = stretch.rows.flatMap(row => {
    const from = wall.x + (row.inRoof ? inset : 0)
    const to = wall.x + wall.width - (row.inRoof ? inset : 0)
    const ceiling = row.inRoof ? eaves - size.roof : ground - (row.floor + 1) * size.storey
    return placeRow(row, from, to, row.inRoof ? size.roof : size.storey, ceiling, sheet)
  })
  return {
    side: stretch.side,
    index: stretch.index,
    form: stretch.form,
    roof: house.roof,
    part: stretch.part,
    parts: stretch.parts,
    cell,
    wall,
    roofHeight: size.roof,
    floors: Array.from({ length: house.floors }, (_, floor) => ({ floor, y: ground - floor * size.storey })),
    openings,
  }
}

function placeRow({ items, floor, inRoof }: Row, from: number, to: number, storey: number, top: number, sheet: Sheet) {
  const { unit, letters } = sheet
  const texts = items.map(({ mark }) => shorten(mark, letters))
  const slots = items.map(({ kind }, i) => slotWidth(kind, texts[i]!, unit))
  const wishes = items.map(({ wish }) => from + wish * (to - from))
  const centres = spread(wishes, slots, from, to)
  // tags of one row stand in one line, clear of the floor above
  const bottom = top + storey
  return items.map(({ mark, kind }, i): OpeningPlace => {
    const width = shapeWidth(kind, unit)
    const height = shapeHeight(kind, unit)
    const head = bottom - (inRoof ? JOINERY.hatch.height * unit + OUTLINE + 2 : HEAD * unit)
    const centre = centres[i]!
    const shape = { x: centre - width / 2, y: head, width, height }
    const label = tagWidth(texts[i]!)
    const tag = {
      x: centre - label / 2,
      y: head - TAG.above - TAG.height,
      width: label,
      height: TAG.height,
      text: texts[i]!,
    }
    const left =
      i === 0 ? centre - 22 : Math.max(centre - 22, (centre + centres[i - 1]!) / 2 + (slots[i - 1]! - slots[i]!) / 4)
    const right =
      i === items.length - 1
        ? centre + 22
        : Math.min(centre + 22, (centre + centres[i + 1]!) / 2 + (slots[i]! - slots[i + 1]!) / 4)
    const hitLeft = Math.min(left, centre - slots[i]! / 2)
    const hitRight = Math.max(right, centre + slots[i]! / 2)
    const hit = {
      x: hitLeft,
      y: Math.max(top, tag.y),
      width: hitRight - hitLeft,
      height: bottom - Math.max(top, tag.y),
    }
    return { mark, kind, floor, inRoof, shape, tag, hit }
  })
}
