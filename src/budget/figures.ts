import { DAYS_IN_YEAR, meanRate, openingChances, type Rate } from './rate.ts'
import type { Remaining } from './remaining.ts'

/** The figures of one cell that need no rate. `through[k]`: chance that it gives k + 1 further sends. */
export interface Figures {
  readonly left: { readonly p05: number; readonly p50: number; readonly p95: number }
  readonly next: number
  readonly untilLow: number
  readonly countOn: number
  readonly through: readonly number[]
}

export function figuresOf(cell: Remaining, replaceBelow: number): Figures {
  const p95 = cell.quantile(0.95)
  const table = tableOf(cell, Math.ceil(p95) + 2)
  const quantile = (p: number): number => {
    const after = table.findIndex(chance => chance <= 1 - p)
    return after > 0 ? cell.quantile(p, [after - 1, after]) : cell.quantile(p)
  }
  return {
    left: { p05: quantile(0.05), p50: quantile(0.5), p95 },
    next: table[1]!,
    untilLow: firstLow(cell, table, replaceBelow, Math.ceil(p95)),
    countOn: quantile(1 - replaceBelow),
    through: table.slice(1),
  }
}

/** Most chances of a table that are computed; those between lie on straight lines. */
const TABLE_POINTS = 48

/** No cell gives more: a boot count that is not one must not fill the memory. */
const LONGEST_TABLE = 100_000

/** Chance that the cell gives at least 0, 1, 2 … further sends. */
function tableOf(cell: Remaining, wanted: number): number[] {
  const length = Math.min(wanted, LONGEST_TABLE)
  const step = Math.ceil(length / TABLE_POINTS)
  const table: number[] = []
  let from = 1
  for (let k = 0; k < length; k += step) {
    const to = cell.surviving(k + step)
    for (let j = 0; j < step; j++) table.push(from + ((to - from) * j) / step)
    from = to
  }
  return table
}

/**
 * First count of further sends after which the next one's chance is under the limit; the chance falls, then levels off.
 * A short table is exact; a long one has straight pieces, so there the cell itself is asked.
 */
function firstLow(cell: Remaining, table: readonly number[], limit: number, most: number): number {
  const exact = most + 2 <= TABLE_POINTS
  const through = (sends: number): number => (exact ? table[sends]! : cell.surviving(sends))
  const low = (more: number): boolean => through(more + 1) < limit * through(more)
  let before = -1
  let after = 0
  while (after < most && !low(after)) {
    before = after
    after = Math.min(most, after + Math.max(1, Math.floor(after / 3)))
  }
  while (after - before > 1) {
    const middle = (after + before) >> 1
    if (low(middle)) after = middle
    else before = middle
  }
  return after
}

const DAY = 86_400_000
/** Shelf life that makers give a lithium coin cell (common practice): no later date is ever named. */
const SHELF_DAYS = 3653

/**
 * The date by which the chance that an opening gets through has fallen to the limit, looked at from now:
 * the chance after k more openings, averaged over the uncertain number of openings until then.
 * @returns milliseconds since the epoch, at most ten years on; undefined when no rate is known
 */
export function changeDate(
  { next, through }: Figures,
  rate: Rate | undefined,
  limit: number,
  now: number,
): number | undefined {
  if (!rate) return undefined
  if (next < limit) return now
  const chance = (days: number): number => {
    const openings = openingChances(rate, days, through.length)
    if (!openings) return through[Math.round((meanRate(rate) * days) / DAYS_IN_YEAR)] ?? 0
    let sum = 0
    for (let k = 0; k < openings.length; k++) sum += openings[k]! * through[k]!
    return sum
  }
  if (chance(SHELF_DAYS) > limit) return now + SHELF_DAYS * DAY
  let low = 0
  let high = SHELF_DAYS
  while (high - low > 0.05) {
    const middle = (low + high) / 2
    if (chance(middle) > limit) low = middle
    else high = middle
  }
  return now + Math.round(low * DAY)
}
