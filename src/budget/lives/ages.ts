import { type Ages, COUNTED_FROM_NEW } from './lifetime.ts'
import { gaussLegendre } from './special-functions.ts'

/** Sends before the count began: how many are expected, or `unknown` when nobody knows the cell's age. */
export type UnknownBefore = number | 'unknown'

/** Ages that stand for the spread of an unknown one. */
const AGE_POINTS = 8
const PRIOR_SHAPE = 3

const known = new Map<string, Ages>()

/**
 * Sends before the count began, as a spread of values: Gauss-Legendre points with their chances. The cell worked when
 * the count began, so the model's own survival weighs them: a guess of 60 for a cell that gives about 20 is mostly
 * disbelieved. An expected number is spread like a count at a rate known as well as a guess of two openings.
 * An unknown age is that of a cell met anywhere in its life (Cox 1962, Renewal Theory, 5.1: density ~ survival).
 * @param points - how many ages; more move a quantile by less than 0.5 %
 */
export function agesOf(unknownBefore: UnknownBefore | undefined, modelMedian: number, points = AGE_POINTS): Ages {
  if (!unknownBefore) return COUNTED_FROM_NEW
  const key = `${unknownBefore} ${modelMedian} ${points}`
  const found = known.get(key) ?? spread(unknownBefore, modelMedian, points)
  if (known.size > 1000) known.clear()
  known.set(key, found)
  return found
}

function spread(unknownBefore: UnknownBefore, modelMedian: number, points: number): Ages {
  const expected = unknownBefore === 'unknown' ? undefined : unknownBefore
  const most = Math.min(2 * modelMedian, expected === undefined ? Infinity : 8 * expected)
  const nodes = gaussLegendre(points)
  const sends = nodes.map(({ at }) => at * most)
  const weights = nodes.map(({ weight }, i) => {
    const alive = Math.exp(-Math.LN2 * (sends[i]! / modelMedian) ** PRIOR_SHAPE)
    const likely = expected === undefined ? 1 : sends[i]! * Math.exp((-2 * sends[i]!) / expected)
    return weight * alive * likely
  })
  const sum = weights.reduce((all, weight) => all + weight, 0)
  if (!(sum > 0)) return { sends: [expected ?? 0], chances: [1] }
  return { sends, chances: weights.map(weight => weight / sum) }
}
