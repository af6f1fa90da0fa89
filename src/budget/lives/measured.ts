import type { Remaining } from './cell-left.ts'
import { nextStep } from './further-sends.ts'

/** Sums over the lowest millivolts under load of a cell's sends: `j` is the number of the send, `v` its millivolts. */
export interface VoltsLine {
  readonly n: number
  readonly j: number
  readonly jj: number
  readonly v: number
  readonly vj: number
  readonly vv: number
}

/** What a module has measured of its cells, and what the model expects there. */
export interface Volts {
  readonly line: VoltsLine
  /** Lowest millivolts under load of a new cell, and where the module resets, by the model. */
  readonly newMillivolts: number
  readonly resetMillivolts: number
  /** Cells that died while this module was in place: their lines, and the sends that they gave. */
  readonly ended: readonly { readonly line: VoltsLine; readonly sends: number }[]
}

/**
 * Standard deviations before anything was measured, in mV; all of them assumptions. Modules measure with an offset and
 * reset at volts of their own; cells differ in where they end; readings scatter.
 */
const SD = { end: 50, endOfCells: 20, noise: 15 } as const
/** The noise is worth so many readings before a line has shown its own. */
const NOISE_WEIGHT = 4
/** The fall from a new cell to the end is known to a fifth. Assumption. */
const FALL_SD = 0.2
/** A cell of unknown age has a part of its fall behind it. */
const PARTLY_USED = { left: 0.6, sd: 0.4 } as const
/** A model whose volts fall by less over a life says nothing that a reading could show. */
const LEAST_FALL = 50

interface Normal {
  readonly mean: number
  readonly variance: number
}

/** Straight line through a cell's readings: variance of the noise, and what it expects at a send. */
function fitOf({ n, j, jj, v, vj, vv }: VoltsLine) {
  const sjj = jj - (j * j) / n
  const svj = vj - (v * j) / n
  const rest = sjj > 0 ? Math.max(0, vv - (v * v) / n - (svj * svj) / sjj) : 0
  const degrees = sjj > 0 ? Math.max(0, n - 2) : 0
  const noise = (NOISE_WEIGHT * SD.noise ** 2 + rest) / (NOISE_WEIGHT + degrees)
  const at = (send: number): Normal => ({
    mean: v / n + (svj / sjj) * (send - j / n),
    variance: noise * (1 / n + (send - j / n) ** 2 / sjj),
  })
  return { noise, at }
}

/** Volts under load at which cells end in this module: where the model says, moved by those that died in it. */
export function endOf({ resetMillivolts, ended }: Volts): Normal {
  let weight = 1 / SD.end ** 2
  let sum = resetMillivolts * weight
  for (const { line, sends } of ended) {
    if (line.n < 3) continue
    const { mean, variance } = fitOf(line).at(sends + 0.5)
    const one = 1 / (variance + SD.endOfCells ** 2)
    weight += one
    sum += mean * one
  }
  return { mean: sum / weight, variance: 1 / weight }
}

/**
 * Log-likelihood of a cell's readings if it gives so many sends in all: its volts fall on a straight line to the end
 * volts, v(j) = end + fall (1 - j / life), both with their normal priors, which are integrated over.
 * @returns also how far the readings are from what was expected, in their own noise: about `n`
 * @see Gelman et al., Bayesian Data Analysis (3rd ed.), 14.8 (regression with a normal prior), from memory
 */
function linearly(line: VoltsLine, noise: number, end: Normal, fall: Normal) {
  const { n, j, jj, v, vj, vv } = line
  return (life: number): { log: number; off: number } => {
    const x = n - j / life
    const xx = n - (2 * j) / life + jj / (life * life)
    const xv = v - vj / life
    const one = v - n * end.mean - fall.mean * x
    const two = xv - end.mean * x - fall.mean * xx
    const square =
      vv -
      2 * end.mean * v -
      2 * fall.mean * xv +
      n * end.mean ** 2 +
      2 * end.mean * fall.mean * x +
      fall.mean ** 2 * xx
    const a = n + noise / end.variance
    const d = xx + noise / fall.variance
    const determinant = a * d - x * x
    const explained = (d * one * one - 2 * x * one * two + a * two * two) / determinant
    const off = Math.max(0, square - explained) / noise
    return { log: -(Math.log(determinant) + off) / 2, off }
  }
}

const MOST_KNOTS = 160

/**
 * What is left of a cell whose volts under load were measured.
 *
 * The lives that its kind and its opening make likely are weighed by how well a straight fall to the module's end volts
 * fits the readings.
 * @param left - without the readings
 * @param isNew - the cell was counted from new
 * @returns `left` itself where there are fewer than two readings, the model knows of no fall, or the readings are none
 *   that the model can mean (a module that measures at rest)
 */
export function measured(left: Remaining, volts: Volts, sends: number, isNew: boolean): Remaining {
  const fallen = volts.newMillivolts - volts.resetMillivolts
  if (volts.line.n < 2 || fallen < LEAST_FALL) return left
  const fall = isNew
    ? { mean: fallen, variance: (FALL_SD * fallen) ** 2 }
    : { mean: PARTLY_USED.left * fallen, variance: (PARTLY_USED.sd * fallen) ** 2 }
  const end = endOf(volts)
  const likelihood = linearly(volts.line, fitOf(volts.line).noise, end, fall)

  const knots = [0]
  const before = [1]
  for (let at = 0; knots.length < MOST_KNOTS && before.at(-1)! > 1e-5; ) {
    at = nextStep(at)
    knots.push(at)
    before.push(left.surviving(at))
  }
  const found = knots.slice(1).map((to, i) => likelihood(sends + (knots[i]! + to) / 2))
  const nearest = found.reduce((least, { off }) => Math.min(least, off), Number.POSITIVE_INFINITY)
  if (nearest > mostOff(volts.line.n)) return left
  const top = found.reduce((most, { log }) => Math.max(most, log), Number.NEGATIVE_INFINITY)
  const mass = found.map(({ log }, i) => (before[i]! - before[i + 1]!) * Math.exp(log - top))
  const all = mass.reduce((sum, each) => sum + each, 0)
  if (!(all > 0)) return left
  const after = [1]
  // never quite 0: logarithms are taken of it
  for (const each of mass) after.push(Math.max(1e-12, after.at(-1)! - each / all))
  return tabled(knots, after, end.mean)
}

/** Readings farther from the model than this are of something else: five standard deviations of a chi-squared number. */
const mostOff = (n: number): number => n + 5 * Math.sqrt(2 * n) + 5

/** Chances on straight pieces between knots. */
function tabled(knots: readonly number[], chances: readonly number[], endMillivolts: number): Remaining {
  const between = (from: number, to: number, share: number): number => from + (to - from) * share
  return {
    endMillivolts,
    surviving(more) {
      const after = knots.findIndex(knot => knot >= more)
      if (after < 0) return chances.at(-1)!
      if (after === 0) return 1
      const [low, high] = [knots[after - 1]!, knots[after]!]
      return between(chances[after - 1]!, chances[after]!, (more - low) / (high - low))
    },
    quantile(p) {
      const after = chances.findIndex(chance => chance <= 1 - p)
      if (after < 0) return knots.at(-1)!
      if (after === 0) return 0
      const [high, low] = [chances[after - 1]!, chances[after]!]
      return between(knots[after - 1]!, knots[after]!, (high - (1 - p)) / (high - low))
    },
  }
}
