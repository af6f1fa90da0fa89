import type { Ages } from './lifetime.ts'
import type { Posterior } from './posterior.ts'
import { toStep } from './send-steps.ts'

/** A cell and how far it has come. */
export interface Present {
  readonly modelMedian: number
  readonly sends: number
  /** Sends before the count began. */
  readonly ages: Ages
}

/** What a kind has taught, and the chances of a cell under it. */
export interface Tables {
  readonly posterior: Posterior
  /** Those of cells of one model and age. */
  tables(cell: Present): {
    /** Chance of each point that such a cell gives at least so many sends from the beginning of its count on. */
    running(sends: number): Float64Array
  }
}

/** What one cell has left, in sends from now on, given that its last send got through and it still runs. */
export interface Remaining {
  /** Chance that the cell gives at least `more` further sends; 0 or more. */
  surviving(more: number): number
  /** Sends left that fall short with chance `p`; quicker where it is known to lie `within` two values. */
  quantile(p: number, within?: readonly [low: number, high: number]): number
  /** In the cold of a season: chance that an opening got through that came while it has been silent. */
  readonly duringSilence?: number
  /** Where its volts under load were measured: those at which cells end in this module. */
  readonly endMillivolts?: number
}

/** Whole sends up to which the chances of all points are kept for the next cell. */
const MOST_KEPT = 200
/** Chances under this are not divided by. */
const TINY = 1e-200

/** Sends in all at which the chances of all points are kept, or nothing: whole ones, and the steps of the cold. */
function keptAt(total: number): number | undefined {
  if (Number.isInteger(total)) return total <= MOST_KEPT ? total : undefined
  const step = toStep(total)
  return Math.abs(step - total) <= 1e-9 * total ? step : undefined
}

/** One point of one age. */
interface Strands {
  readonly weight: Float64Array
  readonly easing: Float64Array
  /** Index of its shape and age in `pairs`. */
  readonly pair: Int32Array
  readonly pairs: readonly { readonly shape: number; readonly sofar: number }[]
}

export class Left implements Remaining {
  readonly #predictor: Tables
  readonly #cell: Present
  readonly #points: Int32Array
  readonly #weight: Float64Array
  /** Weights over the chance of what the cell has given; undefined where that is too small to divide by. */
  #ratio: Float64Array | undefined | null = null
  #strands: Strands | undefined

  /** @param weight - of each of the `points`; they add up to 1 */
  constructor(predictor: Tables, cell: Present, points: Int32Array, weight: Float64Array) {
    this.#predictor = predictor
    this.#cell = cell
    this.#points = points
    this.#weight = weight
  }

  surviving(more: number): number {
    const total = keptAt(this.#cell.sends + more)
    const ratio = total === undefined ? undefined : this.#ratios()
    if (total === undefined || !ratio) return Math.min(1, this.#measure(more, false)[0])
    const table = this.#predictor.tables(this.#cell).running(total)
    const points = this.#points
    let chance = 0
    for (let i = 0; i < ratio.length; i++) chance += ratio[i]! * table[points[i]!]!
    return Math.min(1, chance)
  }

  quantile(p: number, within?: readonly [number, number]): number {
    let [low, high] = within ?? [0, this.#cell.modelMedian]
    while (this.#measure(high, false)[0] > 1 - p) {
      low = high
      high *= 2
    }
    let x = (low + high) / 2
    for (let i = 0; i < 100; i++) {
      const [chance, density] = this.#measure(x, true)
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
  }

  #ratios(): Float64Array | undefined {
    if (this.#ratio !== null) return this.#ratio
    const given = this.#predictor.tables(this.#cell).running(this.#cell.sends)
    const isSound = this.#points.every(point => given[point]! > TINY)
    this.#ratio = isSound ? this.#weight.map((weight, i) => weight / given[this.#points[i]!]!) : undefined
    return this.#ratio
  }

  /** Chance of so many further sends, and its density. */
  #measure(more: number, withDensity: boolean): [chance: number, density: number] {
    this.#strands ??= this.#unravel()
    const { weight, easing, pair, pairs } = this.#strands
    const { modelMedian } = this.#cell
    const between = new Float64Array(pairs.length)
    const slope = new Float64Array(pairs.length)
    for (const [i, { shape, sofar }] of pairs.entries()) {
      const hazard = Math.LN2 * ((sofar + more) / modelMedian) ** shape
      between[i] = Math.LN2 * (sofar / modelMedian) ** shape - hazard
      slope[i] = (hazard * shape) / (sofar + more)
    }
    let chance = 0
    let density = 0
    for (let i = 0; i < weight.length; i++) {
      const part = weight[i]! * Math.exp(between[pair[i]!]! * easing[i]!)
      chance += part
      if (withDensity) density += part * slope[pair[i]!]! * easing[i]!
    }
    return [chance, density]
  }

  /** The points with each age apart. */
  #unravel(): Strands {
    const { slabs, medians } = this.#predictor.posterior
    const { ages, sends, modelMedian } = this.#cell
    const each = ages.sends.length
    const pairs = slabs.flatMap(({ shape }) => ages.sends.map(age => ({ shape, sofar: age + sends })))
    const weight = new Float64Array(this.#points.length * each)
    const easing = new Float64Array(weight.length)
    const pair = new Int32Array(weight.length)
    const logs = new Float64Array(each)
    for (const [i, point] of this.#points.entries()) {
      const slab = Math.floor(point / medians.count)
      const { shape, easing: ease } = slabs[slab]!
      const at = ease[point % medians.count]!
      let top = Number.NEGATIVE_INFINITY
      for (let a = 0; a < each; a++) {
        const age = ages.sends[a]!
        const past = Math.LN2 * ((age / modelMedian) ** shape - ((age + sends) / modelMedian) ** shape) * at
        logs[a] = Math.log(ages.chances[a]!) + past
        top = Math.max(top, logs[a]!)
      }
      let sum = 0
      for (let a = 0; a < each; a++) sum += Math.exp(logs[a]! - top)
      for (let a = 0; a < each; a++) {
        const to = i * each + a
        weight[to] = (this.#weight[i]! * Math.exp(logs[a]! - top)) / sum
        easing[to] = at
        pair[to] = slab * each + a
      }
    }
    return { weight, easing, pair, pairs }
  }
}
