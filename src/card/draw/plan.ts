/** What a drawing of the house is made of: facts in, places out. All lengths are CSS pixels. */
import type { Kind, Place, Roof } from '../../register/types.ts'
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
  /** Sides on a page at most; default: all that fit. */
  readonly perPage?: number
  /** How far storeys and roof may grow where there is room; default 1.3. */
  readonly growth?: number
  /** Room for the line of the day under each side. */
  readonly hasToday?: boolean
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
  /** The leftmost on its ground line: the floors are named beside it. */
  readonly isFirst: boolean
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
