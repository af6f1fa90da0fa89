import type { Register } from '../../register/types.ts'
import type { Problem } from '../../text/problem.ts'
import { allSteps } from '../../text/steps.ts'
import { localOf } from '../../text/time-zone.ts'
import { readTree } from '../../text/tree.ts'

/**
 * Cells that are said to be fitted on a day that has not come: a forecast takes no notice of such a day.
 * @param text - of the register
 * @param now - milliseconds since the epoch
 */
export function futureCells(text: string, { openings, timezone }: Register, now: number): Problem[] {
  const { year, month, day } = localOf(now, timezone)
  const today = [year, month, day].map(part => String(part).padStart(2, '0')).join('-')
  const ahead = [...openings.entries()].filter(([, { cellFitted }]) => cellFitted !== undefined && cellFitted > today)
  if (ahead.length === 0) return []
  const tree = allSteps(readTree(text))
  return ahead.map(([index, { mark, cellFitted }]) =>
    tree.problem(
      ['openings', index, 'cellFitted'],
      'value',
      'cell-fitted-ahead',
      `${mark}: A cell is fitted on a day that has come; ${cellFitted} is ahead and counts for nothing: correct it, or write it when the cell is in`,
      'warning',
    ),
  )
}
