/** Places on one page: columns and rows of elevations, and on each floor the openings with their tags. */
import { CELL_GAP, cellHeight, columnWidths, easyWall, leastWall, rowInset, SIDE_ROOM } from './fit.ts'
import {
  HEAD,
  JOINERY,
  LETTERS,
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
} from './measure.ts'
import type { Elevation, House, OpeningPlace } from './plan.ts'
import type { Box } from './shapes.ts'
import { spread } from './spacing.ts'
import type { FloorRow, Stretch } from './stretch.ts'

export interface PageSize {
  readonly width: number
  readonly height: number
  readonly unit: number
  readonly letters: number
  readonly columns: number
  readonly rows: number
  readonly hatch: boolean
  readonly growth: number
  /** Height under the ground, pixels. */
  readonly foot: number
}

/** How far a storey or a roof may grow where the page leaves room. */
export const GROWTH = 1.3

/** Places of every elevation of one page. */
export function placePage(house: House, stretches: readonly Stretch[], page: PageSize): readonly Elevation[] {
  const { unit, letters } = page
  const columns = Math.min(page.columns, stretches.length)
  const cell = (page.height - (page.rows - 1) * CELL_GAP) / page.rows
  const least = storeys(unit, house.roof, page.hatch)
  const growth = Math.min(
    page.growth,
    1 + (cell - cellHeight(least, house.floors, page.foot)) / (least.roof + house.floors * least.storey),
  )
  const grown: Storeys =
    growth > 1
      ? { storey: least.storey * growth, roof: house.roof === 'flat' ? least.roof : least.roof * growth }
      : least
  const wants = stretches.map(({ form, rows }) => {
    return Math.max(leastWall(house, rows, unit, letters), easyWall(house, form, grown.storey))
  })
  const widths = widen(columnWidths(house, stretches, columns, unit, letters), wants, columns, page.width - LEVEL_WIDTH)
  return stretches.map((stretch, i) => {
    const column = i % columns
    const x = widths.slice(0, column).reduce((sum, width) => sum + width + CELL_GAP, LEVEL_WIDTH)
    const y = Math.floor(i / columns) * (cell + CELL_GAP)
    const box = { x, y, width: widths[column]!, height: cell }
    const wall = Math.min(wants[i]!, box.width - SIDE_ROOM)
    return { ...elevation(house, stretch, box, wall, grown, page), isFirst: column === 0 }
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
  page: PageSize,
): Omit<Elevation, 'isFirst'> {
  const used = cellHeight(size, house.floors, page.foot)
  const ground = cell.y + (cell.height + used) / 2 - page.foot
  const x = cell.x + (cell.width - SIDE_ROOM - wallWidth) / 2 + ROOF_OVERHANG
  const eaves = ground - house.floors * size.storey
  const wall = { x, y: eaves, width: wallWidth, height: ground - eaves }
  const inset = rowInset(house, page.unit) / 2
  const openings = stretch.rows.flatMap(row => {
    const from = wall.x + (row.inRoof ? inset : 0)
    const to = wall.x + wall.width - (row.inRoof ? inset : 0)
    const ceiling = row.inRoof ? eaves - size.roof : ground - (row.floor + 1) * size.storey
    return placeRow(row, from, to, row.inRoof ? size.roof : size.storey, ceiling, page)
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

function placeRow(
  { items, floor, inRoof }: FloorRow,
  from: number,
  to: number,
  storey: number,
  top: number,
  page: PageSize,
) {
  const { unit, letters } = page
  const texts = items.map(({ mark }) => shorten(mark, LETTERS[letters]!))
  const slots = items.map(({ kind, tags }) => slotWidth(kind, tags[letters]!, unit))
  const wishes = items.map(({ wish }) => from + wish * (to - from))
  const centres = spread(wishes, slots, from, to)
  // tags of one row stand in one line, clear of the floor above
  const bottom = top + storey
  return items.map(({ mark, kind, tags }, i): OpeningPlace => {
    const width = shapeWidth(kind, unit)
    const height = shapeHeight(kind, unit)
    const head = bottom - (inRoof ? JOINERY.hatch.height * unit + OUTLINE + 2 : HEAD * unit)
    const centre = centres[i]!
    const shape = { x: centre - width / 2, y: head, width, height }
    const label = tags[letters]!
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
