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
  /** Point of the most weight. */
  readonly #heaviest: number
  /** Likelihood of a life at every point; of cells of one model and age at a time. */
  #kept: { model: number; ages: Ages; lives: Map<string, Float64Array>; running: Map<number, Float64Array> } | undefined

  constructor(posterior: Posterior) {
    this.posterior = posterior
    this.#heaviest = posterior.weight.indexOf(posterior.weight.reduce((most, each) => Math.max(most, each), 0))
  }

  /**
   * @param opening - index of its opening in the posterior; undefined for one of which nothing is known
   * @param before - the opening's lives without the present cell's
   */
  remaining(opening: number | undefined, before: readonly Datum[], cell: Present): Remaining {
    let weights = this.#spread(opening)
    for (const table of [...before.map(life => this.#past(life)), this.table(cell, cell.sends)]) {
      for (let p = 0; p < weights.length; p++) weights[p]! *= table[p]!
    }
    let top = 0
    for (let p = 0; p < weights.length; p++) if (weights[p]! > top) top = weights[p]!
    if (top < TINY) {
      weights = this.#inLogs(this.#spread(opening), before, cell)
      top = 1
    }
    const floor = top * NEGLIGIBLE
    const points = new Int32Array(weights.length)
    let count = 0
    let sum = 0
    for (let p = 0; p < weights.length; p++) {
      if (!(weights[p]! > floor)) continue
      points[count] = p
      weights[count++] = weights[p]!
      sum += weights[p]!
    }
    for (let i = 0; i < count; i++) weights[i]! /= sum
    return new Left(this, cell, points.subarray(0, count), weights.subarray(0, count))
  }

  /** Weight of each point for an opening's own median; the likelihood of its lives is taken out again. */
  #spread(opening: number | undefined): Float64Array {
    const { slabs, slab, medians, weight, kernels, fits } = this.posterior
    const spread = new Float64Array(slabs.length * medians.count)
    const heaviest = this.#heaviest
    const tops = slabs.map(({ top }) => (opening === undefined ? 0 : top[opening]!))
    const base = tops[slab[heaviest]!]!
    const without = tops.map(top => Math.exp(base - top))
    for (let p = 0; p < weight.length; p++) {
      const fit = opening === undefined ? 1 : fits[p]![opening]! / fits[heaviest]![opening]!
      const share = (weight[p]! * without[slab[p]!]!) / fit
      const { chances, from } = kernels[p]!
      const at = slab[p]! * medians.count + from
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
    if (this.#kept?.model !== modelMedian || this.#kept.ages !== ages) {
      this.#kept = { model: modelMedian, ages, lives: new Map(), running: new Map() }
    }
    const { running } = this.#kept
    const table = running.get(sends) ?? this.#table({ life: { runningAt: sends }, modelMedian, ages })
    running.set(sends, table)
    return table
  }

  #past(life: Datum): Float64Array {
    const key = lifeKey(life)
    const table = this.#kept?.lives.get(key) ?? this.#table(life)
    this.#kept?.lives.set(key, table)
    return table
  }

  #table(life: Datum): Float64Array {
    const { slabs, medians } = this.posterior
    const table = new Float64Array(slabs.length * medians.count)
    this.#add(table, life)
    for (let p = 0; p < table.length; p++) table[p] = Math.exp(table[p]!)
    return table
  }

  #add(logs: Float64Array, life: Datum): void {
    const { slabs, medians } = this.posterior
    for (const [i, { shape, easing }] of slabs.entries()) {
      addLife(logs.subarray(i * medians.count, (i + 1) * medians.count), life, shape, easing)
    }
  }
}
