/**
 * From the facts of a house to places on paper: which sides stand on which page, how large, and where each opening and
 * its tag go. Pure: the same house and the same area always give the same places. All lengths are CSS pixels.
 */
import { clamp } from '../../text/clamp.ts'
import { footOf, largestFit, roofHatch } from './fit.ts'
import { GROWTH, placePage } from './page.ts'
import type { Area, House, Layout } from './plan.ts'

/** @throws RangeError when a width or height is negative or not finite */
export function layoutHouse(given: House, area: Area): Layout {
  for (const [name, value] of [['width', area.width] as const, ['height', area.height ?? 0] as const])
    if (!Number.isFinite(value) || value < 0) throw new RangeError(`${name} is ${value}: needs a length of 0 or more`)
  const house = sane(given)
  const least = area.minShape ?? 26
  const unplaced = house.openings.filter(({ at }) => !at || !house.sides.includes(at.side)).map(({ mark }) => mark)
  const best = largestFit(house, area, least, area.maxShape ?? 64)
  if (!best) return { width: area.width, height: area.height ?? 0, pages: [], shape: 0, cramped: false, unplaced }
  const { unit, letters, columns, pages } = best
  const growth = area.growth ?? GROWTH
  const foot = footOf(area)
  const height = area.height === undefined ? best.height : Math.min(area.height, best.height * growth)
  const rows = Math.ceil(pages[0]!.length / columns)
  const hatch = pages.some(roofHatch)
  return {
    width: area.width,
    height,
    pages: pages.map(stretches => ({
      elevations: placePage(house, stretches, {
        width: area.width,
        height,
        unit,
        letters,
        columns,
        rows,
        hatch,
        growth,
        foot,
      }),
    })),
    shape: unit,
    cramped: unit < least - 1e-6,
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
