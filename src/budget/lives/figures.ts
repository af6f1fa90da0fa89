import { allSteps, type Steps } from '../../text/steps.ts'
import { DAY, DAYS_IN_YEAR } from '../../text/time.ts'
import type { Remaining } from './cell-left.ts'
import { EACH_UNTIL, nextStep } from './further-sends.ts'
import { meanRate, openingChances, type Rate, rateQuantile } from './rate.ts'
import { type Season, seasonDays } from './season.ts'

/** The figures of one cell that need no rate, in openings. */
export interface Figures {
  /** Of the mixture that has 0 for a dead cell. */
  readonly left: { readonly p05: number; readonly p50: number; readonly p95: number }
  /** Chance that the next opening gets through: it still runs, and the cell gives one more. */
  readonly next: number
  /** Chance that the next opening gets through if the cell still runs. */
  readonly nextIfAlive: number
  readonly untilLow: number
  /** It never falls so far while the cell is likely to last: `untilLow` is then what is left at p95. */
  readonly neverLow: boolean
  readonly countOn: number
}

/**
 * @param alive - chance that the cell still runs
 * @param sendsPerOpening - a contact that reports both edges from its cell spends two; its opening is told by the first
 */
export const figuresOf = (cell: Remaining, alive: number, replaceBelow: number, sendsPerOpening = 1): Figures =>
  allSteps(figuresSteps(cell, alive, replaceBelow, sendsPerOpening))

/** As `figuresOf`, a chance a step. */
export function* figuresSteps(
  cell: Remaining,
  alive: number,
  replaceBelow: number,
  sendsPerOpening = 1,
): Steps<Figures> {
  const { knots, chances } = yield* chancesOf(cell)
  const quantile = (p: number): number => {
    const level = (1 - p) / alive
    return level >= 1 ? 0 : crossing(cell, knots, chances, level) / sendsPerOpening
  }
  const most = Math.ceil(crossing(cell, knots, chances, 0.05))
  yield
  const low = yield* firstLow(cell, chances, replaceBelow, most)
  return {
    left: { p05: quantile(0.05), p50: quantile(0.5), p95: quantile(0.95) },
    next: chances[1]! * alive,
    nextIfAlive: chances[1]!,
    untilLow: Math.ceil(low / sendsPerOpening),
    neverLow: low >= most && cell.surviving(most + 1) >= replaceBelow * cell.surviving(most),
    countOn: quantile(1 - replaceBelow),
  }
}

/** Further sends that are got through with chance `level`: between two knots on a curve through four. */
function crossing(cell: Remaining, knots: readonly number[], chances: readonly number[], level: number): number {
  const after = chances.findIndex(chance => chance <= level)
  if (after < 0) return cell.quantile(1 - level)
  const first = Math.min(after - 2, knots.length - 4)
  // near new the chance falls like a power of the sends: no curve of this kind
  if (first < 0) return cell.quantile(1 - level, [knots[after - 1]!, knots[after]!])
  const [xs, ys] = [knots.slice(first, first + 4), chances.slice(first, first + 4).map(Math.log)]
  const target = Math.log(level)
  let [low, high] = [knots[after - 1]!, knots[after]!]
  while (high - low > 1e-5 * high) {
    const middle = (low + high) / 2
    if (through4(xs, ys, middle) > target) low = middle
    else high = middle
  }
  return (low + high) / 2
}

/** Lagrange's polynomial through four points. */
function through4(xs: readonly number[], ys: readonly number[], x: number): number {
  let sum = 0
  for (let i = 0; i < 4; i++) {
    let term = ys[i]!
    for (let j = 0; j < 4; j++) if (j !== i) term *= (x - xs[j]!) / (xs[i]! - xs[j]!)
    sum += term
  }
  return sum
}

/** Chances of so many further sends, 0 first, until hardly any is left. */
function* chancesOf(
  cell: Remaining,
): Steps<{ readonly knots: readonly number[]; readonly chances: readonly number[] }> {
  const knots: number[] = []
  const chances: number[] = []
  for (let sends = 0, beyond = 0; beyond < 3; sends = nextStep(sends)) {
    const chance = cell.surviving(sends)
    knots.push(sends)
    chances.push(chance)
    if (chance <= 0.05) beyond++
    yield
  }
  return { knots, chances }
}

/** First count of further sends after which the next one's chance is under the limit; the chance falls, then levels off. */
function* firstLow(cell: Remaining, chances: readonly number[], limit: number, most: number): Steps<number> {
  const through = (sends: number): number =>
    sends <= EACH_UNTIL && sends < chances.length ? chances[sends]! : cell.surviving(sends)
  const low = (more: number): boolean => through(more + 1) < limit * through(more)
  let before = -1
  let after = 0
  while (after < most && !low(after)) {
    before = after
    // one by one as long as they are known: the cold of a winter ahead may be a dip
    after = Math.min(most, after < EACH_UNTIL ? after + 1 : after + Math.floor(after / 3))
    yield
  }
  while (after - before > 1) {
    const middle = Math.floor((after + before) / 2)
    if (low(middle)) after = middle
    else before = middle
    yield
  }
  return after
}

/** Shelf life that makers give a lithium coin cell (common practice): no later date is ever named. */
const SHELF_DAYS = 3653

export interface ChangeRule {
  /** Openings follow this rate and season; without a rate there is no date. */
  readonly rate: Rate | undefined
  readonly season: Season
  /** Further openings after which the cell is to be changed; Infinity: never. */
  readonly openings: number
  /** Milliseconds since the epoch. */
  readonly now: number
  /** Chance that so many have come by then, above 0 and below 1; default 0.5: as likely as not. */
  readonly chance?: number
}

/**
 * The day by which so many openings have come, as likely as not or with another chance. Silence does not move it: an opening that did not happen
 * takes nothing from the cell.
 * @returns milliseconds since the epoch, at most ten years on; undefined when no rate is known
 */
export function changeDate({ rate, season, openings, now, chance = 0.5 }: ChangeRule): number | undefined {
  if (!rate) return undefined
  if (openings <= 0) return now
  const perYear = (): number => (chance === 0.5 ? meanRate(rate) : rateQuantile(rate, 1 - chance))
  const isDue = (days: number): boolean => {
    const meanDays = seasonDays(now, now + days * DAY, season)
    const chances = openings < MANY_OPENINGS ? openingChances(rate, meanDays, openings) : undefined
    if (!chances) return (perYear() * meanDays) / DAYS_IN_YEAR >= openings
    return chances.reduce((sum, each) => sum + each, 0) <= 1 - chance
  }
  if (!isDue(SHELF_DAYS)) return now + SHELF_DAYS * DAY
  let low = 0
  let high = Math.min(SHELF_DAYS, (openings / meanRate(rate)) * DAYS_IN_YEAR)
  while (!isDue(high)) [low, high] = [high, Math.min(SHELF_DAYS, 2 * high)]
  while (high - low > 0.05) {
    const middle = (low + high) / 2
    if (isDue(middle)) high = middle
    else low = middle
  }
  return now + Math.round(low * DAY)
}

/** From here on what an opening's chance adds to the rate's is little, and the mean is as good as the median. */
const MANY_OPENINGS = 500
