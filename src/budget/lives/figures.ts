import { DAY, DAYS_IN_YEAR } from '../../text/time.ts'
import { meanRate, openingChances, type Rate } from './rate.ts'
import type { Remaining } from './remaining.ts'

/** The figures of one cell that need no rate, in openings. `through[k]`: chance that opening k + 1 gets through. */
export interface Figures {
  readonly left: { readonly p05: number; readonly p50: number; readonly p95: number }
  readonly next: number
  readonly untilLow: number
  /** It never falls so far while the cell is likely to last: `untilLow` is then what is left at p95. */
  readonly neverLow: boolean
  readonly countOn: number
  readonly through: readonly number[]
}

/** @param sendsPerOpening - a contact that reports both edges from its cell spends two; its opening is told by the first */
export function figuresOf(cell: Remaining, replaceBelow: number, sendsPerOpening = 1): Figures {
  const p95 = cell.quantile(0.95)
  const knots = knotsOf(Math.ceil(p95) + 2)
  const chances = knots.map(sends => cell.surviving(sends))
  const quantile = (p: number): number => {
    const after = chances.findIndex(chance => chance <= 1 - p)
    return after > 0 ? cell.quantile(p, [knots[after - 1]!, knots[after]!]) : cell.quantile(p)
  }
  const table = tableOf(knots, chances)
  const most = Math.ceil(p95)
  const low = firstLow(cell, table, replaceBelow, most)
  const [p05, p50, countOn] = [quantile(0.05), quantile(0.5), quantile(1 - replaceBelow)]
  return {
    left: { p05: p05 / sendsPerOpening, p50: p50 / sendsPerOpening, p95: p95 / sendsPerOpening },
    next: table[1]!,
    untilLow: Math.ceil(low / sendsPerOpening),
    neverLow: low >= most && cell.surviving(most + 1) >= replaceBelow * cell.surviving(most),
    countOn: countOn / sendsPerOpening,
    through: table.slice(1).filter((_, send) => send % sendsPerOpening === 0),
  }
}

/** Sends up to here are each computed; further on the steps grow by an eighth. */
const EACH_UNTIL = 48

/** No cell gives more: a boot count that is not one must not fill the memory. */
const LONGEST_TABLE = 100_000

/** Numbers of further sends, 0 first, whose chances are computed. */
function knotsOf(wanted: number): number[] {
  const last = Math.min(wanted, LONGEST_TABLE)
  const knots: number[] = []
  for (let sends = 0; sends < last; sends += sends < EACH_UNTIL ? 1 : Math.floor(sends / 8)) knots.push(sends)
  return [...knots, last]
}

/** Chance that the cell gives at least 0, 1, 2 … further sends; between two knots on a straight line. */
function tableOf(knots: readonly number[], chances: readonly number[]): number[] {
  const table: number[] = []
  for (const [i, from] of knots.entries()) {
    const wide = (knots[i + 1] ?? from + 1) - from
    for (let j = 0; j < wide; j++)
      table.push(chances[i]! + (((chances[i + 1] ?? chances[i]!) - chances[i]!) * j) / wide)
  }
  return table
}

/**
 * First count of further sends after which the next one's chance is under the limit; the chance falls, then levels off.
 * A short table is exact; a long one has straight pieces, so there the cell itself is asked.
 */
function firstLow(cell: Remaining, table: readonly number[], limit: number, most: number): number {
  const exact = most + 2 <= EACH_UNTIL
  const through = (sends: number): number => (exact ? table[sends]! : cell.surviving(sends))
  const low = (more: number): boolean => through(more + 1) < limit * through(more)
  let before = -1
  let after = 0
  while (after < most && !low(after)) {
    before = after
    after = Math.min(most, after + Math.max(1, Math.floor(after / 3)))
  }
  while (after - before > 1) {
    const middle = Math.floor((after + before) / 2)
    if (low(middle)) after = middle
    else before = middle
  }
  return after
}

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
