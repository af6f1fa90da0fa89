import { Left, type Present, type Remaining, type Tables } from './cell-left.ts'
import { type Ages, addLife, COUNTED_FROM_NEW, type Datum, type Lifetime } from './lifetime.ts'
import { lifeKey } from './likelihood.ts'
import type { Posterior } from './posterior.ts'

/** Points of less weight than this share of the heaviest are left out: together they move no chance by 1e-4. */
const NEGLIGIBLE = 1e-6
/** Likelihoods smaller than this are worked with as logarithms. */
const TINY = 1e-200

/** Models and ages whose tables are kept: those of one opening's cells, in turn. */
const MOST_KEPT = 4

/** Answers for single cells from what their kind has taught; at every shape and median of the lattice. */
export class Predictor implements Tables {
  readonly posterior: Posterior
  /** Point of the most weight. */
  readonly #heaviest: number
  /** Of the models and ages met last, the latest first. */
  #kept: readonly LikelihoodTables[] = []

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
    for (const life of before) this.#weigh(weights, life)
    const given = this.tables(cell).running(cell.sends)
    for (let p = 0; p < weights.length; p++) weights[p]! *= given[p]!
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
    for (const life of [...before, { life: { runningAt: sends }, modelMedian, ages }])
      addTo(weights, life, this.posterior)
    const top = weights.reduce((most, log) => Math.max(most, log), Number.NEGATIVE_INFINITY)
    return weights.map(log => Math.exp(log - top))
  }

  tables({ modelMedian, ages }: Pick<Present, 'modelMedian' | 'ages'>): LikelihoodTables {
    const isIt = (kept: LikelihoodTables): boolean => kept.ages === ages && kept.modelMedian === modelMedian
    const [latest] = this.#kept
    if (latest && isIt(latest)) return latest
    const found = this.#kept.find(isIt) ?? new LikelihoodTables(this.posterior, modelMedian, ages)
    this.#kept = [found, ...this.#kept.filter(kept => kept !== found)].slice(0, MOST_KEPT)
    return found
  }

  /** Weighs each point by the likelihood of an earlier life. */
  #weigh(weights: Float64Array, { life, modelMedian, ages }: Datum): void {
    const tables = this.tables({ modelMedian, ages })
    if (!('runningAt' in life)) {
      const table = tables.ended(life)
      for (let p = 0; p < weights.length; p++) weights[p]! *= table[p]!
      return
    }
    const { runningAt, silence = 1, next: tried = runningAt + 1 } = life
    const sofar = tables.running(runningAt)
    const next = silence < 1 ? tables.running(tried) : sofar
    // as in `lifetime.ts`: it ran and kept silent, or its next try failed
    for (let p = 0; p < weights.length; p++) weights[p]! *= sofar[p]! - (1 - silence) * next[p]!
  }
}

/** Likelihoods of lives at every point, for cells of one model and age. */
class LikelihoodTables {
  readonly modelMedian: number
  readonly ages: Ages
  readonly #posterior: Posterior
  readonly #running = new Map<number, Float64Array>()
  readonly #ended = new Map<string, Float64Array>()

  constructor(posterior: Posterior, modelMedian: number, ages: Ages) {
    this.#posterior = posterior
    this.modelMedian = modelMedian
    this.ages = ages
  }

  /** Chance of each point that such a cell gives at least so many sends from the beginning of its count on. */
  running(sends: number): Float64Array {
    const table = this.#running.get(sends) ?? this.#table({ runningAt: sends })
    this.#running.set(sends, table)
    return table
  }

  ended(life: Lifetime): Float64Array {
    const key = lifeKey({ life, modelMedian: this.modelMedian, ages: COUNTED_FROM_NEW })
    const table = this.#ended.get(key) ?? this.#table(life)
    this.#ended.set(key, table)
    return table
  }

  #table(life: Lifetime): Float64Array {
    const { slabs, medians } = this.#posterior
    const table = new Float64Array(slabs.length * medians.count)
    addTo(table, { life, modelMedian: this.modelMedian, ages: this.ages }, this.#posterior)
    for (let p = 0; p < table.length; p++) table[p] = Math.exp(table[p]!)
    return table
  }
}

/** Adds the log-likelihood of a life at every point. */
function addTo(logs: Float64Array, life: Datum, { slabs, medians }: Posterior): void {
  for (const [i, { shape, easing }] of slabs.entries()) {
    addLife(logs.subarray(i * medians.count, (i + 1) * medians.count), life, shape, easing)
  }
}
