/** Papers by name. */
export const PAPER_SIZES = ['a4', 'letter'] as const
export type Paper = (typeof PAPER_SIZES)[number]

/** Sheet sizes in millimetres: ISO 216 A4, ANSI/ASME Y14.1 A (letter). */
export const PAPERS: Readonly<Record<Paper, { readonly width: number; readonly height: number }>> = {
  a4: { width: 210, height: 297 },
  letter: { width: 215.9, height: 279.4 },
}

export interface LabelGrid {
  readonly paper: Paper
  /** Labels across and down; at least 1. */
  readonly columns: number
  readonly rows: number
  /** Millimetres left free at each edge of the sheet. */
  readonly marginMillimetres: number
  /** Millimetres between labels. */
  readonly gapMillimetres: number
}
export const LABEL_GRID: LabelGrid = { paper: 'a4', columns: 3, rows: 7, marginMillimetres: 10, gapMillimetres: 2 }

const SMALLEST = { width: 60, height: 34 } as const

/** Size of one label in millimetres. */
export function labelSize({ paper, columns, rows, marginMillimetres, gapMillimetres }: LabelGrid) {
  const { width, height } = PAPERS[paper]
  const each = (whole: number, count: number) => (whole - 2 * marginMillimetres - (count - 1) * gapMillimetres) / count
  return { width: each(width, columns), height: each(height, rows) }
}

/** Why a grid cannot be printed, undefined when it can. */
export function gridFault(grid: LabelGrid): string | undefined {
  const { columns, rows } = grid
  if (!Number.isInteger(columns) || !Number.isInteger(rows) || columns < 1 || rows < 1) {
    return `A grid has whole columns and rows, at least 1 of each; found ${columns} by ${rows}`
  }
  const { width, height } = labelSize(grid)
  if (width >= SMALLEST.width && height >= SMALLEST.height) return undefined
  return `A label needs ${SMALLEST.width} by ${SMALLEST.height} mm to be read; ${columns} by ${rows} on ${grid.paper} leaves ${width.toFixed(0)} by ${height.toFixed(0)}: take fewer columns or rows`
}
