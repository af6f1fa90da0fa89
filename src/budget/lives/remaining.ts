import { type Ages, type Posterior, summedHazard } from './posterior.ts'

/** Points of less weight than this share of the heaviest are left out: together they move no chance by 1e-4. */
const NEGLIGIBLE = 1e-6

/** What one cell has left, in sends from now on, given that its last send got through. */
export interface Remaining {
  /** Chance that the cell gives at least `more` further sends. */
  surviving(more: number): number
  /** Sends left that fall short with chance `p`; quicker where it is known to lie `within` two values. */
  quantile(p: number, within?: readonly [low: number, high: number]): number
}

interface Points {
  /** Weight, sends made so far, ln median and shape of each point. */
  readonly weight: Float64Array
  readonly sofar: Float64Array
  readonly logMedian: Float64Array
  readonly shape: Float64Array
  /** Summed hazard at `sofar`. */
  readonly past: Float64Array
}

/**
 * Predictive life left of one cell.
 * @param posterior - of its kind
 * @param ownSends - sends counted
 * @param ages - sends before the count began
 * @param counted - whether `posterior` already holds that this cell has run so far; a silent cell's does not
 */
export function remaining(
  posterior: Posterior,
  modelMedian: number,
  ownSends: number,
  ages: Ages,
  counted = true,
): Remaining {
  const { weight, sofar, logMedian, shape, past } = pointsOf(posterior, Math.log(modelMedian), ownSends, ages, counted)

  let chance = 0
  let density = 0
  const measure = (more: number, withDensity: boolean): number => {
    chance = 0
    density = 0
    let total = Number.NaN
    let logTotal = 0
    for (let i = 0; i < weight.length; i++) {
      if (sofar[i]! + more !== total) {
        total = sofar[i]! + more
        logTotal = Math.log(total)
      }
      const hazard = Math.LN2 * Math.exp(shape[i]! * (logTotal - logMedian[i]!))
      const part = weight[i]! * Math.exp(past[i]! - hazard)
      chance += part
      if (withDensity) density += (part * hazard * shape[i]!) / total
    }
    return chance
  }
  return {
    surviving: more => measure(more, false),
    quantile(p, within) {
      let [low, high] = within ?? [0, modelMedian]
      while (measure(high, false) > 1 - p) {
        low = high
        high *= 2
      }
      let x = (low + high) / 2
      for (let i = 0; i < 100; i++) {
        const off = measure(x, true) - (1 - p)
        if (off > 0) low = x
        else high = x
        let next = x + off / density
        if (!(next > low && next < high)) next = (low + high) / 2
        // the error after a Newton step is about the square of the step
        if (Math.abs(next - x) <= 1e-4 * next) return next
        x = next
      }
      return x
    },
  }
}

function pointsOf(posterior: Posterior, logModel: number, ownSends: number, ages: Ages, counted: boolean): Points {
  const nodes = posterior.weight.length
  const each = ages.sends.length
  const all = new Float64Array(nodes * each)
  let highest = -Infinity
  for (let i = 0; i < nodes; i++) {
    const logMedian = logModel + posterior.logRatio[i]!
    let top = -Infinity
    let reached = 0
    for (let j = 0; j < each; j++) {
      const log = Math.log(ages.chances[j]!) + survived(ages.sends[j]!, ownSends, logMedian, posterior.shape[i]!)
      all[i * each + j] = log
      if (log > top) top = log
    }
    for (let j = 0; j < each; j++) reached += Math.exp(all[i * each + j]! - top)
    const add = Math.log(posterior.weight[i]!) - (counted ? top + Math.log(reached) : 0)
    for (let j = i * each; j < (i + 1) * each; j++) {
      all[j]! += add
      if (all[j]! > highest) highest = all[j]!
    }
  }
  for (let j = 0; j < all.length; j++) all[j] = Math.exp(all[j]! - highest)
  let count = 0
  let sum = 0
  for (const weight of all) {
    if (!(weight > NEGLIGIBLE)) continue
    count++
    sum += weight
  }
  const array = (): Float64Array => new Float64Array(count)
  const points = { weight: array(), sofar: array(), logMedian: array(), shape: array(), past: array() }
  let to = 0
  // points of one age stand together, so that the logarithm of their sends is taken once
  for (let j = 0; j < each; j++) {
    for (let node = 0; node < nodes; node++) {
      const weight = all[node * each + j]!
      if (!(weight > NEGLIGIBLE)) continue
      points.weight[to] = weight / sum
      points.sofar[to] = ages.sends[j]! + ownSends
      points.logMedian[to] = logModel + posterior.logRatio[node]!
      points.shape[to] = posterior.shape[node]!
      points.past[to] = summedHazard(points.sofar[to]!, points.logMedian[to]!, points.shape[to]!)
      to++
    }
  }
  return points
}

const survived = (age: number, more: number, logMedian: number, shape: number): number =>
  summedHazard(age, logMedian, shape) - summedHazard(age + more, logMedian, shape)
