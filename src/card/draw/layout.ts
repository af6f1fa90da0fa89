/**
 * From the facts of a house to places on paper: which sides stand on which page, how large, and where each opening and
 * its tag go. Pure: the same house and the same area always give the same places. All lengths are CSS pixels.
 */
import type { Kind, Place, Roof } from '../../register/types.ts'
import { largestFit, roofHatch } from './fit.ts'
import { placePage } from './page.ts'
import type { Box } from './shapes.ts'

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
export function layoutHouse(given: House, area: Area): Layout {
  for (const [name, value] of [['width', area.width] as const, ['height', area.height ?? 0] as const])
    if (!Number.isFinite(value) || value < 0) throw new RangeError(`${name} is ${value}: needs a length of 0 or more`)
  const house = sane(given)
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
      elevations: placePage(house, stretches, { width: area.width, height, unit, letters, columns, rows, hatch }),
    })),
    shape: unit,
    cramped: unit < least - 1e-6,
    unplaced,
  }
}

const MOST_FLOORS = 60

/** A register that came over the network may say anything: floors within the house, places within the side, each side once. */
function sane(house: House): House {
  const floors = Math.min(MOST_FLOORS, Math.max(1, Math.round(house.floors) || 1))
  const openings = house.openings.map(({ mark, kind, at }) => {
    if (!at) return { mark, kind }
    const floor = Math.min(floors - 1, Math.max(0, Math.floor(at.floor) || 0))
    const known = typeof at.along === 'number' && Number.isFinite(at.along)
    return {
      mark,
      kind,
      at: { side: at.side, floor, ...(known ? { along: Math.min(1, Math.max(0, at.along!)) } : {}) },
    }
  })
  return { sides: [...new Set(house.sides)], floors, roof: house.roof, openings }
}
