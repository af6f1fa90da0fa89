import { tame } from './problems.ts'
import { fitted, widthOf } from './width.ts'

/**
 * Rows as lines of text, each column as wide as its widest cell and two blanks from the next; texts are made safe to print.
 * @param widest - columns after which a cell is cut
 */
export function columns(rows: readonly (readonly string[])[], widest = 40): string[] {
  const cells = rows.map(row => row.map(cell => fitted(tame(cell), widest)))
  const widths = (cells[0] ?? []).map((_, column) => Math.max(...cells.map(row => widthOf(row[column] ?? ''))))
  return cells.map(row =>
    row
      .map((cell, column) => cell + ' '.repeat((widths[column] ?? 0) - widthOf(cell)))
      .join('  ')
      .trimEnd(),
  )
}
