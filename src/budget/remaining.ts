import { type Ages, type Posterior, summedHazard } from './posterior.ts'

/** Points of less weight than this share of the heaviest are left out: together they move no chance by 1e-5. */
const NEGLIGIBLE = 1e-7

/** What one cell has left, in sends from now on, given that its last send got through. */
export interface Remaining {
  /** Chance that the cell gives at least `more` further sends. */
  surviving(more: number): number
  /** Sends left that fall short with chance `p`. */
  quantile(p: number): number
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
  const measure = (more: number): void => {
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
      density += (part * hazard * shape[i]!) / total
    }
  }
  return {
    surviving(more) {
      measure(more)
      return chance
    },
    quantile(p) {
      let low = 0
      let high = modelMedian
      for (measure(high); chance > 1 - p; measure(high)) {
        low = high
        high *= 2
      }
      let x = (low + high) / 2
      for (let i = 0; i < 100; i++) {
        measure(x)
        const off = chance - (1 - p)
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
  const all: [weight: number, node: number, age: number][] = []
  const own = new Float64Array(ages.sends.length)
  let top = 0
  for (let i = 0; i < posterior.weight.length; i++) {
    const logMedian = logModel + posterior.logRatio[i]!
    let reached = 0
    for (let j = 0; j < own.length; j++) {
      own[j] = ages.chances[j]! * Math.exp(survived(ages.sends[j]!, ownSends, logMedian, posterior.shape[i]!))
      reached += own[j]!
    }
    if (!(reached > 0)) continue
    for (let j = 0; j < own.length; j++) {
      const weight = posterior.weight[i]! * (counted ? own[j]! / reached : own[j]!)
      top = Math.max(top, weight)
      all.push([weight, i, ages.sends[j]!])
    }
  }
  const kept = all.filter(([weight]) => weight > NEGLIGIBLE * top)
  const sum = kept.reduce((total, [weight]) => total + weight, 0)
  const points = kept.map(([weight, i, age]) => {
    const logMedian = logModel + posterior.logRatio[i]!
    const shape = posterior.shape[i]!
    const sofar = age + ownSends
    return { weight: weight / sum, sofar, logMedian, shape, past: summedHazard(sofar, logMedian, shape) }
  })
  return {
    weight: Float64Array.from(points, p => p.weight),
    sofar: Float64Array.from(points, p => p.sofar),
    logMedian: Float64Array.from(points, p => p.logMedian),
    shape: Float64Array.from(points, p => p.shape),
    past: Float64Array.from(points, p => p.past),
  }
}

const survived = (age: number, more: number, logMedian: number, shape: number): number =>
  summedHazard(age, logMedian, shape) - summedHazard(age + more, logMedian, shape)
