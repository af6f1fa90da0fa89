/** How large, in how many columns, on how many pages: one ground line before several, few pages before large windows. */

import {
  CAPTION,
  GROUND,
  hipInset,
  JOINERY,
  LETTERS,
  LEVEL_WIDTH,
  OUTLINE,
  ROOF_OVERHANG,
  type Storeys,
  storeys,
  TAG,
  TODAY,
} from './measure.ts'
import type { Area, House } from './plan.ts'
import { cut, type FloorRow, neededWidth, type Side, type Stretch } from './stretch.ts'

export interface Fit {
  readonly unit: number
  /** Letters a tag may show, as an index into `LETTERS`. */
  readonly letters: number
  readonly columns: number
  readonly pages: readonly (readonly Stretch[])[]
  /** Height of the highest page at this size. */
  readonly height: number
}

export const CELL_GAP = 10
const TOP = 3
const WALL_PAD = 6
const SMALLEST = 6
/** Width of a window that a scrolling column aims at. */
const EASY = 34
const EASIEST = 40

/** Room beside the walls: overhang of the roof on both ends. */
export const SIDE_ROOM = 2 * ROOF_OVERHANG

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

/** Under the ground: the line of the day, and the name of the side. */
export const footOf = ({ hasToday }: Pick<Area, 'hasToday'>) => GROUND + CAPTION + (hasToday ? TODAY : 0)

export const cellHeight = ({ storey, roof }: Storeys, floors: number, foot: number) =>
  TOP + roof + floors * storey + foot

/** One way to put the sides on paper. */
interface Plan extends Pick<Fit, 'letters' | 'columns' | 'pages'> {
  readonly perPage: number
}

export function largestFit(
  house: House,
  sides: readonly Side[],
  area: Area,
  least: number,
  most: number,
): Fit | undefined {
  const room = area.width - SIDE_ROOM - LEVEL_WIDTH
  const stretches = sides.flatMap(side => cut(side, rows => leastWall(house, rows, least, LETTERS.length - 1) <= room))
  if (stretches.length === 0) return undefined
  const isOpen = area.height === undefined
  const hatch = roofHatch(stretches)
  const foot = footOf(area)
  const top = isOpen ? Math.min(most, EASIEST) : most
  const tried = (plan: Plan): Fit => {
    const heightAt = (unit: number) => height(house, unit, hatch, plan, foot)
    const fits = (unit: number) =>
      (isOpen || heightAt(unit) <= (area.height ?? 0)) && width(house, plan, unit) <= area.width
    const unit = largest(top, fits)
    return { ...plan, unit, height: heightAt(unit) }
  }
  let best: Fit | undefined
  for (let perPage = Math.min(stretches.length, area.perPage ?? stretches.length); perPage >= 1; perPage--) {
    const pages = chunks(stretches, perPage)
    if (isOpen && perPage < stretches.length) break
    if (perPage > 1 && pages.length === chunks(stretches, perPage - 1).length) continue
    const plansOf = (columns: number) => LETTERS.map((_, letters): Plan => ({ letters, columns, pages, perPage }))
    if (isOpen) return openFit(plansOf, tried, least, Math.min(EASY, most), stretches.length)
    const fits: Fit[] = []
    const readable = (columns: number): Fit | undefined => {
      for (const plan of plansOf(columns)) {
        const fit = tried(plan)
        if (fit.unit >= least - 1e-6) return fit
        fits.push(fit)
      }
      return undefined
    }
    const folded = () => [...Array(perPage - 1).keys()].flatMap(line => readable(perPage - 1 - line) ?? [])
    // The house unrolled on one ground line comes first.
    const good = readable(perPage) ?? highest(folded(), fit => rank(fit, house, area))
    if (good) return good
    best = highest([...(best ? [best] : []), ...fits], ({ unit }) => unit)
  }
  return best
}

/** As high as needed: as many columns as leave windows of an easy size. */
function openFit(
  plansOf: (columns: number) => readonly Plan[],
  tried: (plan: Plan) => Fit,
  least: number,
  easy: number,
  most: number,
): Fit | undefined {
  let best: Fit | undefined
  for (const letters of LETTERS.keys()) {
    let good = tried(plansOf(1)[letters]!)
    for (let columns = 2; columns <= most; columns++) {
      // A column more that saves no line would leave one side alone.
      if (Math.ceil(most / columns) === Math.ceil(most / (columns - 1))) continue
      const fit = tried(plansOf(columns)[letters]!)
      if (fit.unit >= easy) good = fit
    }
    if (good.unit >= least - 1e-6) return good
    best = highest(best ? [best, good] : [good], ({ unit }) => unit)
  }
  return best
}

function highest<T>(list: readonly T[], worth: (each: T) => number): T | undefined {
  return list.reduce<T | undefined>((best, each) => (best && worth(best) >= worth(each) ? best : each), undefined)
}

/** Larger windows first, but not at the price of a house that is squeezed into a tower. */
function rank({ unit, columns, letters, pages }: Fit, house: House, area: Area): number {
  const { storey } = storeys(unit, house.roof, pages.some(roofHatch))
  const page = pages[0]!
  const most = columnWidths(house, page, columns, unit, letters)
  const used = most.reduce((sum, each) => sum + each, LEVEL_WIDTH + (most.length - 1) * CELL_GAP)
  const spare = (area.width - used) / most.length
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

const width = (house: House, { pages, columns, letters }: Plan, unit: number) =>
  Math.max(
    ...pages.map(page => {
      const widths = columnWidths(house, page, columns, unit, letters)
      return widths.reduce((sum, each) => sum + each, LEVEL_WIDTH + (widths.length - 1) * CELL_GAP)
    }),
  )

function height(house: House, unit: number, hatch: boolean, { perPage, columns }: Plan, foot: number): number {
  const rows = Math.ceil(perPage / columns)
  return rows * cellHeight(storeys(unit, house.roof, hatch), house.floors, foot) + (rows - 1) * CELL_GAP
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
