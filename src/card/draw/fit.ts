/** How large, in how many columns, on how many pages: the largest windows with the fewest pages. */

import {
  CAPTION,
  GROUND,
  hipInset,
  JOINERY,
  LEVEL_WIDTH,
  OUTLINE,
  ROOF_OVERHANG,
  type Storeys,
  storeys,
  TAG,
} from './measure.ts'
import type { Area, House } from './plan.ts'
import { cut, type FloorRow, neededWidth, type Stretch, sideForms } from './stretch.ts'

export interface Fit {
  readonly unit: number
  /** Letters a tag may show. */
  readonly letters: number
  readonly columns: number
  readonly pages: readonly (readonly Stretch[])[]
  /** Height of the highest page at this size. */
  readonly height: number
}

export const CELL_GAP = 10
const TOP = 3
const WALL_PAD = 8
const LETTERS = [16, 8, 5]
const SMALLEST = 6
/** Width of a window that a scrolling column aims at. */
const EASY = 34
const EASIEST = 40

/** Room beside the walls: levels, overhang of the roof on both ends. */
export const SIDE_ROOM = LEVEL_WIDTH + 2 * ROOF_OVERHANG

export const roofHatch = (stretches: readonly Stretch[]) =>
  stretches.some(({ rows }) => rows.some(({ inRoof }) => inRoof))

/** What the slope takes off a row in the roof at both ends together. */
export const rowInset = (house: House, unit: number) =>
  house.roof === 'hip' ? 2 * hipInset(JOINERY.hatch.height * unit + OUTLINE + 2 + TAG.height + TAG.above + OUTLINE) : 0

export function leastWall(house: House, rows: readonly FloorRow[], unit: number, letters: number): number {
  return Math.max(neededWidth(rows, unit, letters, rowInset(house, unit)) + 2 * WALL_PAD, 2.4 * unit)
}

/** Width at which walls look at ease. */
export const easyWall = (house: House, form: 'long' | 'end', storey: number) =>
  (2.8 + 1.1 * house.floors) * storey * (form === 'long' || house.roof === 'flat' ? 1 : 0.72)

export const cellHeight = ({ storey, roof }: Storeys, floors: number) => TOP + roof + floors * storey + GROUND + CAPTION

export function largestFit(house: House, area: Area, least: number, most: number): Fit | undefined {
  const forms = sideForms(house.sides)
  const room = area.width - SIDE_ROOM
  const stretches = house.sides.flatMap((_, i) =>
    cut(house, i, forms[i]!, rows => leastWall(house, rows, least, LETTERS.at(-1)!) <= room),
  )
  if (stretches.length === 0) return undefined
  const open = area.height === undefined
  const top = open ? Math.min(most, EASIEST) : most
  const hatch = roofHatch(stretches)
  let best: Fit | undefined
  for (let perPage = stretches.length; perPage >= 1; perPage--) {
    if (open && perPage < stretches.length) break
    const pages = chunks(stretches, perPage)
    if (perPage > 1 && pages.length === chunks(stretches, perPage - 1).length) continue
    for (const letters of LETTERS) {
      let good: Fit | undefined
      for (let columns = 1; columns <= perPage; columns++) {
        const unit = largest(top, unit => {
          if (width(house, pages, columns, unit, letters) > area.width) return false
          return open || height(house, unit, hatch, perPage, columns) <= area.height
        })
        const found = { unit, letters, columns, pages, height: height(house, unit, hatch, perPage, columns) }
        if (!open && good && good.unit >= least && unit < least) continue
        if (
          open
            ? columns === 1 || unit >= Math.min(EASY, most)
            : !good || good.unit < least || rank(found, house, area) > rank(good, house, area)
        )
          good = found
      }
      if (!good) continue
      if (good.unit >= least - 1e-6) return good
      if (!best || good.unit > best.unit + 1e-6) best = good
    }
  }
  return best
}

/** Larger windows first, but not at the price of a house that is squeezed into a tower. */
function rank({ unit, columns, letters, pages }: Fit, house: House, area: Area): number {
  const { storey } = storeys(unit, house.roof, pages.some(roofHatch))
  const page = pages[0]!
  const most = columnWidths(house, page, columns, unit, letters)
  const spare = (area.width - most.reduce((sum, each) => sum + each, (most.length - 1) * CELL_GAP)) / most.length
  const squeezes = page.map(({ form }, i) =>
    Math.min(1, (most[i % most.length]! + spare - SIDE_ROOM) / easyWall(house, form, storey)),
  )
  return Math.log(unit) + 0.6 * Math.log(Math.min(...squeezes))
}

const chunks = (stretches: readonly Stretch[], size: number) =>
  Array.from({ length: Math.ceil(stretches.length / size) }, (_, i) => stretches.slice(i * size, (i + 1) * size))

/** Least width of each column. */
export function columnWidths(
  house: House,
  page: readonly Stretch[],
  columns: number,
  unit: number,
  letters: number,
): number[] {
  const widths = Array<number>(Math.min(columns, page.length)).fill(0)
  page.forEach(({ rows }, i) => {
    widths[i % columns] = Math.max(widths[i % columns]!, leastWall(house, rows, unit, letters) + SIDE_ROOM)
  })
  return widths
}

const width = (house: House, pages: Fit['pages'], columns: number, unit: number, letters: number) =>
  Math.max(
    ...pages.map(page => {
      const widths = columnWidths(house, page, columns, unit, letters)
      return widths.reduce((sum, each) => sum + each, (widths.length - 1) * CELL_GAP)
    }),
  )

function height(house: House, unit: number, hatch: boolean, perPage: number, columns: number): number {
  const rows = Math.ceil(perPage / columns)
  return rows * cellHeight(storeys(unit, house.roof, hatch), house.floors) + (rows - 1) * CELL_GAP
}

/** Largest unit that fits, by halving; at least `SMALLEST`. */
function largest(most: number, fits: (unit: number) => boolean): number {
  if (fits(most)) return most
  let low = SMALLEST
  let high = most
  while (high - low > 0.05) {
    const middle = (low + high) / 2
    if (fits(middle)) low = middle
    else high = middle
  }
  return low
}
