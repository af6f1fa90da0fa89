import { Left, type Present, type Remaining, type Tables } from './cell-left.ts'
import { type Ages, addLife, type Datum } from './lifetime.ts'
import { lifeKey } from './likelihood.ts'
import type { Posterior } from './posterior.ts'

/** Points of less weight than this share of the heaviest are left out: together they move no chance by 1e-4. */
const NEGLIGIBLE = 1e-6
/** Likelihoods smaller than this are worked with as logarithms. */
const TINY = 1e-200

/** Answers for single cells from what their kind has taught; at every shape and median of the lattice. */
export class Predictor implements Tables {
  readonly posterior: Posterior
  /** Likelihood of a life at every point; of cells of one model and age at a time. */
  #kept: { model: number; ages: Ages; of: Map<string, Float64Array> } | undefined

  constructor(posterior: Posterior) {
    this.posterior = posterior
  }

  /**
   * @param opening - index of its opening in the posterior; undefined for one of which nothing is known
   * @param before - the opening's lives without the present cell's
   */
  remaining(opening: number | undefined, before: readonly Datum[], cell: Present): Remaining {
    const spread = this.#spread(opening)
    const tables = [...before.map(life => this.#past(life)), this.table(cell, cell.sends)]
    let weights: Float64Array = spread.slice()
    for (const table of tables) for (let p = 0; p < weights.length; p++) weights[p]! *= table[p]!
    let top = 0
    for (const weight of weights) if (weight > top) top = weight
    if (top < TINY) {
      weights = this.#inLogs(spread, before, cell)
      top = 1
    }
    const floor = top * NEGLIGIBLE
    let count = 0
    let sum = 0
    for (const weight of weights) {
      if (!(weight > floor)) continue
      count++
      sum += weight
    }
    const points = new Int32Array(count)
    const kept = new Float64Array(count)
    for (let p = 0, to = 0; p < weights.length; p++) {
      if (!(weights[p]! > floor)) continue
      points[to] = p
      kept[to++] = weights[p]! / sum
    }
    return new Left(this, cell, points, kept)
  }

  /** Weight of each point for an opening's own median; the likelihood of its lives is taken out again. */
  #spread(opening: number | undefined): Float64Array {
    const { slabs, slab, medians, weight, kernels, logs } = this.posterior
    const spread = new Float64Array(slabs.length * medians.count)
    const count = weight.length
    const from = opening === undefined ? -1 : opening * count
    let base = 0
    for (let p = 0, most = 0; from >= 0 && p < count; p++) {
      if (weight[p]! <= most) continue
      most = weight[p]!
      base = logs[from + p]!
    }
    for (let p = 0; p < count; p++) {
      const share = from < 0 ? weight[p]! : weight[p]! * Math.exp(base - logs[from + p]!)
      const { chances, from: first } = kernels[p]!
      const at = slab[p]! * medians.count + first
      for (let j = 0; j < chances.length; j++) spread[at + j]! += share * chances[j]!
    }
    return spread
  }

  #inLogs(spread: Float64Array, before: readonly Datum[], cell: Present): Float64Array {
    const { modelMedian, ages, sends } = cell
    const weights = spread.map(Math.log)
    for (const life of [...before, { life: { runningAt: sends }, modelMedian, ages }]) this.#add(weights, life)
    const top = weights.reduce((most, log) => Math.max(most, log), Number.NEGATIVE_INFINITY)
    return weights.map(log => Math.exp(log - top))
  }

  /** Chance of each point that such a cell gives at least so many sends from the beginning of its count on. */
  table({ modelMedian, ages }: Present, sends: number): Float64Array {
    if (this.#kept?.model !== modelMedian || this.#kept.ages !== ages)
      this.#kept = { model: modelMedian, ages, of: new Map() }
    const key = `${sends}`
    return this.#kept.of.get(key) ?? this.#keep(key, { life: { runningAt: sends }, modelMedian, ages })
  }

  #past(life: Datum): Float64Array {
    const key = lifeKey(life)
    this.#kept ??= { model: life.modelMedian, ages: life.ages, of: new Map() }
    return this.#kept.of.get(key) ?? this.#keep(key, life)
  }

  #keep(key: string, life: Datum): Float64Array {
    const { slabs, medians } = this.posterior
    const table = new Float64Array(slabs.length * medians.count)
    this.#add(table, life)
    for (let p = 0; p < table.length; p++) table[p] = Math.exp(table[p]!)
    this.#kept?.of.set(key, table)
    return table
  }

  #add(logs: Float64Array, life: Datum): void {
    const { slabs, medians } = this.posterior
    for (const [i, { shape, easing }] of slabs.entries()) {
      addLife(logs.subarray(i * medians.count, (i + 1) * medians.count), life, shape, easing)
    }
  }
}
