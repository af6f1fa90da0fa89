/**
 * From the facts of a house to places on paper: which sides stand on which page, how large, and where each opening and
 * its tag go. Pure: the same house and the same area always give the same places. All lengths are CSS pixels.
 */
import { clamp } from '../../text/clamp.ts'
import { type Fit, footOf, largestFit, roofHatch } from './fit.ts'
import { GROWTH, placePage } from './page.ts'
import type { Area, House, Layout } from './plan.ts'
import { sidesOf } from './stretch.ts'

/** A drawing that is measured, and not laid out yet. */
export interface Sketch extends Pick<Layout, 'shape' | 'cramped'> {
  readonly pageCount: number
  layOut(): Layout
}

/**
 * Measures a house once for any number of areas.
 * @returns what sketches it for one area, and throws a RangeError where a width or height is negative or not finite
 */
export function sketcher(given: House): (area: Area) => Sketch {
  const house = sane(given)
  const sides = sidesOf(house)
  return area => {
    for (const [name, value] of [['width', area.width] as const, ['height', area.height ?? 0] as const])
      if (!Number.isFinite(value) || value < 0) throw new RangeError(`${name} is ${value}: needs a length of 0 or more`)
    const least = area.minShape ?? 26
    const fit = largestFit(house, sides, area, least, area.maxShape ?? 64)
    const shape = fit?.unit ?? 0
    const cramped = fit !== undefined && shape < least - 1e-6
    const layOut = () => ({ ...laidOut(house, area, fit), shape, cramped })
    return { shape, cramped, pageCount: fit?.pages.length ?? 0, layOut }
  }
}

/** @throws RangeError when a width or height is negative or not finite */
export const layoutHouse = (house: House, area: Area): Layout => sketcher(house)(area).layOut()

function laidOut(house: House, area: Area, fit: Fit | undefined): Omit<Layout, 'shape' | 'cramped'> {
  const { width } = area
  const unplaced = house.openings.filter(({ at }) => !at || !house.sides.includes(at.side)).map(({ mark }) => mark)
  if (!fit) return { width, height: area.height ?? 0, pages: [], unplaced }
  const { unit, letters, columns, pages } = fit
  const growth = area.growth ?? GROWTH
  const height = area.height === undefined ? fit.height : Math.min(area.height, fit.height * growth)
  const rows = Math.ceil(pages[0]!.length / columns)
  const size = { width, height, unit, letters, columns, rows, hatch: pages.some(roofHatch), growth, foot: footOf(area) }
  return {
    width,
    height,
    pages: pages.map(stretches => ({ elevations: placePage(house, stretches, size) })),
    unplaced,
  }
}

const MOST_FLOORS = 60

/** A register that came over the network may say anything: floors within the house, places within the side, each side once. */
function sane(house: House): House {
  const floors = clamp(Math.round(house.floors) || 1, 1, MOST_FLOORS)
  const openings = house.openings.map(({ mark, kind, at }) => {
    if (!at) return { mark, kind }
    const floor = clamp(Math.floor(at.floor) || 0, 0, floors - 1)
    const known = typeof at.along === 'number' && Number.isFinite(at.along)
    return {
      mark,
      kind,
      at: { side: at.side, floor, ...(known ? { along: clamp(at.along!, 0, 1) } : {}) },
    }
  })
  return { sides: [...new Set(house.sides)], floors, roof: house.roof, openings }
}
