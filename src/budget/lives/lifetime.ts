/** Life of one cell in sends. `failedAt` is exact (bench); a dead contact is only known to lie between two tries. */
export type Lifetime =
  | { readonly failedAt: number }
  | { readonly failedBetween: readonly [lastThrough: number, firstFailed: number] }
  | {
      readonly runningAt: number
      /**
       * Chance, 0 to 1, of a silence as long as it has kept since its last word, if it still runs; absent: 1, it is known
       * to run. The next try then has either not come or has failed.
       */
      readonly silence?: number
      /** Sends at which the next try fails or gets through; absent: one more. */
      readonly next?: number
    }

/** Sends before the count began: values and their chances, given that the cell still worked when it began. */
export interface Ages {
  readonly sends: readonly number[]
  readonly chances: readonly number[]
}
export const COUNTED_FROM_NEW: Ages = { sends: [0], chances: [1] }

/** A life with the model of its own cell. */
export interface Datum {
  readonly life: Lifetime
  /** Median sends of a new cell by the model. */
  readonly modelMedian: number
  readonly ages: Ages
}

/** All cells of one kind that one opening has had, the present one among them. `times`: so many openings are alike. */
export interface OpeningLives {
  readonly cells: readonly Datum[]
  readonly times: number
}

/**
 * Adds the log-likelihood of one life to `into`, at one shape and several medians.
 * @param easing - (median / model)^-shape of each point: the summed hazard is ln 2 (sends / model)^shape times that
 */
export function addLife(into: Float64Array, { life, modelMedian, ages }: Datum, shape: number, easing: Float64Array) {
  const hazard = (sends: number): number => (sends > 0 ? Math.LN2 * (sends / modelMedian) ** shape : 0)
  if (ages.sends.length === 1) {
    const age = ages.sends[0]!
    const before = hazard(age)
    if ('runningAt' in life && (life.silence ?? 1) >= 1) {
      const since = before - hazard(age + life.runningAt)
      for (let j = 0; j < into.length; j++) into[j]! += since * easing[j]!
      return
    }
    const log = logLife(life, age, shape, hazard)
    for (let j = 0; j < into.length; j++) into[j]! += before * easing[j]! + log(easing[j]!)
    return
  }
  const each = ages.sends.map((age, i) => ({
    log: logLife(life, age, shape, hazard),
    before: hazard(age),
    chance: Math.log(ages.chances[i]!),
  }))
  for (let j = 0; j < into.length; j++) {
    let top = Number.NEGATIVE_INFINITY
    const logs = each.map(({ log, before, chance }) => {
      const value = chance + before * easing[j]! + log(easing[j]!)
      if (value > top) top = value
      return value
    })
    let sum = 0
    if (top > Number.NEGATIVE_INFINITY) for (const log of logs) sum += Math.exp(log - top)
    into[j]! += top + Math.log(sum)
  }
}

/** Logarithm of the chance of a life from new, with `ease` as in `addLife`. */
function logLife(
  life: Lifetime,
  age: number,
  shape: number,
  hazard: (sends: number) => number,
): (ease: number) => number {
  if ('failedAt' in life) {
    const at = hazard(age + life.failedAt)
    return ease => Math.log((at * ease * shape) / (age + life.failedAt)) - at * ease
  }
  if ('failedBetween' in life) {
    const [from, to] = [hazard(age + life.failedBetween[0]), hazard(age + life.failedBetween[1])]
    return ease => Math.log(-Math.expm1((from - to) * ease)) - from * ease
  }
  const { runningAt, silence = 1, next: tried = runningAt + 1 } = life
  const at = hazard(age + runningAt)
  if (silence >= 1) return ease => -at * ease
  const next = hazard(age + tried)
  // it runs and kept silent, or the next try has failed: S(n) - (1 - q) S(n + 1)
  return ease => Math.log1p((silence - 1) * Math.exp((at - next) * ease)) - at * ease
}
