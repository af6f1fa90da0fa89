import { addLife, type Datum, type OpeningLives } from './lifetime.ts'

/** Likelihood of every opening's lives at one shape, on a lattice of medians. */
export interface Slab {
  readonly shape: number
  /** (median / model)^-shape of each median. */
  readonly easing: Float64Array
  /** Likelihood over a value near its own top, opening by opening: `share[opening * medians + median]`. */
  readonly share: Float64Array
  /** Logarithm of that value, for each opening. */
  readonly top: Float64Array
}

/** ln(median / model) of a lattice, evenly spaced. */
export interface Medians {
  readonly low: number
  readonly spacing: number
  readonly count: number
}
export const medianAt = ({ low, spacing }: Medians, index: number): number => low + index * spacing

/** Points of a standard normal variable and their chances, for a quick look. */
const QUICK = Array.from({ length: 9 }, (_, i) => (i - 4) * 0.9)
const QUICK_CHANCES = (() => {
  const heights = QUICK.map(t => Math.exp((-t * t) / 2))
  const sum = heights.reduce((all, height) => all + height, 0)
  return heights.map(height => height / sum)
})()

/** One opening's lives: index of the product of those that are multiplied, and those that kept silent. */
interface Group {
  readonly product: number
  /** The next try has not come or has failed: 1 - (1 - q) S(n + 1) / S(n), with `dead` = 1 - q. */
  readonly silent: readonly { readonly ratio: number; readonly dead: number }[]
}

/** The lives of a kind by opening; a life that several openings share is worked out once. */
export class Likelihood {
  readonly openings: readonly OpeningLives[]
  readonly #lives: Datum[] = []
  /** Pairs of lives of n and n + 1 sends. */
  readonly #ratios: { readonly sofar: number; readonly next: number }[] = []
  /** Indices of the lives of each product: openings that differ in their silence alone share one. */
  readonly #products: (readonly number[])[] = []
  readonly #groups: readonly Group[]

  constructor(openings: readonly OpeningLives[]) {
    this.openings = openings
    const known = new Map<string, number>()
    const indexOf = (cell: Datum): number => {
      const key = lifeKey(cell)
      const found = known.get(key) ?? this.#lives.push(cell) - 1
      known.set(key, found)
      return found
    }
    const ratioOf = (sofar: number, next: number): number => {
      const key = `${sofar}/${next}`
      const found = known.get(key) ?? this.#ratios.push({ sofar, next }) - 1
      known.set(key, found)
      return found
    }
    const productOf = (lives: readonly number[]): number => {
      const key = `x${lives.join()}`
      const found = known.get(key) ?? this.#products.push(lives) - 1
      known.set(key, found)
      return found
    }
    this.#groups = openings.map(({ cells }): Group => {
      const silent: { ratio: number; dead: number }[] = []
      const lives = cells.map(cell => {
        const { life } = cell
        if (!('runningAt' in life) || (life.silence ?? 1) >= 1) return indexOf(cell)
        const { runningAt, silence = 1, next = runningAt + 1 } = life
        const sofar = indexOf({ ...cell, life: { runningAt } })
        silent.push({
          ratio: ratioOf(sofar, indexOf({ ...cell, life: { runningAt: next } })),
          dead: 1 - silence,
        })
        return sofar
      })
      return { product: productOf(lives), silent }
    })
  }

  /** Log-likelihood of all openings together with each one's own factor integrated over, roughly: to find the top. */
  quick(shape: number, logRatio: number, ownSd: number): number {
    const easing = Float64Array.from(QUICK, t => Math.exp(-shape * (logRatio + ownSd * t)))
    const worked = this.#work(easing, shape)
    let all = 0
    const own = new Float64Array(QUICK.length)
    for (let i = 0; i < this.#groups.length; i++) {
      const top = weigh(own, this.#groups[i]!, worked)
      if (!(top > Number.NEGATIVE_INFINITY)) return Number.NEGATIVE_INFINITY
      let sum = 0
      for (let j = 0; j < own.length; j++) sum += QUICK_CHANCES[j]! * own[j]!
      all += this.openings[i]!.times * (top + Math.log(sum))
    }
    return all
  }

  slab(shape: number, medians: Medians): Slab {
    const { count } = medians
    const easing = Float64Array.from({ length: count }, (_, j) => Math.exp(-shape * medianAt(medians, j)))
    const worked = this.#work(easing, shape)
    const share = new Float64Array(this.#groups.length * count)
    const top = new Float64Array(this.#groups.length)
    for (const [i, group] of this.#groups.entries()) {
      top[i] = weigh(share.subarray(i * count, (i + 1) * count), group, worked)
    }
    return { shape, easing, share, top }
  }

  #work(easing: Float64Array, shape: number): Worked {
    const wide = easing.length
    const logs = new Float64Array(this.#lives.length * wide)
    const shares = new Float64Array(logs.length)
    const tops = new Float64Array(this.#lives.length)
    for (let life = 0; life < tops.length; life++) {
      const log = logs.subarray(life * wide, (life + 1) * wide)
      addLife(log, this.#lives[life]!, shape, easing)
      for (let j = 0; j < wide; j++) if (Number.isNaN(log[j])) log[j] = Number.NEGATIVE_INFINITY
      const top = topOf(log)
      for (let j = 0; j < wide; j++) shares[life * wide + j] = Math.exp(log[j]! - top)
      tops[life] = top
    }
    const ratios = new Float64Array(this.#ratios.length * wide)
    for (let i = 0; i < this.#ratios.length; i++) {
      const { sofar, next } = this.#ratios[i]!
      for (let j = 0; j < wide; j++) {
        const log = logs[next * wide + j]!
        ratios[i * wide + j] = log > Number.NEGATIVE_INFINITY ? Math.exp(log - logs[sofar * wide + j]!) : 0
      }
    }
    const products = new Float64Array(this.#products.length * wide)
    const heights = Float64Array.from(this.#products, (lives, i) =>
      multiply(products.subarray(i * wide, (i + 1) * wide), lives, { logs, tops, shares }),
    )
    return { products, heights, ratios }
  }
}

/** Each distinct life at each median: `logs[life * medians + median]`, the others likewise. */
interface Lives {
  readonly logs: Float64Array
  /** Highest logarithm of each life, and the likelihood over it. */
  readonly tops: Float64Array
  readonly shares: Float64Array
}

/** Each distinct product at each median, over a value near its top; the logarithm of that value. */
interface Worked {
  readonly products: Float64Array
  readonly heights: Float64Array
  /** S(n + 1) / S(n) of the silent ones. */
  readonly ratios: Float64Array
}

/** A product that falls so low everywhere is worked out from logarithms. */
const TINY = 1e-30

/** Likelihood of an opening's lives over a value near its top. @returns the logarithm of that value */
function weigh(into: Float64Array, { product, silent }: Group, { products, heights, ratios }: Worked): number {
  const wide = into.length
  for (let j = 0; j < wide; j++) into[j] = products[product * wide + j]!
  for (let i = 0; i < silent.length; i++) {
    const { ratio, dead } = silent[i]!
    for (let j = 0; j < wide; j++) into[j]! *= 1 - dead * ratios[ratio * wide + j]!
  }
  return heights[product]!
}

/** Likelihood of lives together over a value near its top. @returns the logarithm of that value */
function multiply(into: Float64Array, lives: readonly number[], { logs, tops, shares }: Lives): number {
  const wide = into.length
  into.fill(1)
  let top = 0
  for (const life of lives) {
    top += tops[life]!
    for (let j = 0; j < wide; j++) into[j]! *= shares[life * wide + j]!
  }
  if (topOf(into) > TINY) return top
  into.fill(0)
  for (const life of lives) for (let j = 0; j < wide; j++) into[j]! += logs[life * wide + j]!
  const height = topOf(into)
  for (let j = 0; j < wide; j++) into[j] = Math.exp(into[j]! - height)
  return height
}

function topOf(values: Float64Array): number {
  let top = Number.NEGATIVE_INFINITY
  for (let j = 0; j < values.length; j++) if (values[j]! > top) top = values[j]!
  return top
}

/** Equal for lives that say the same. */
export function lifeKey({ life, modelMedian, ages }: Datum): string {
  const own =
    'runningAt' in life
      ? `r${life.runningAt}q${life.silence ?? 1}n${life.next ?? ''}`
      : 'failedAt' in life
        ? `e${life.failedAt}`
        : `f${life.failedBetween[0]}-${life.failedBetween[1]}`
  return `${own}m${modelMedian}${ages.sends.length > 1 || ages.sends[0] !== 0 ? `a${ages.sends.join()}c${ages.chances.join()}` : ''}`
}
