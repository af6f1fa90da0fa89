import { root } from '../circuit/root.ts'
import { must } from '../must.ts'
import type { Lifetime } from './lifetime.ts'
import { normalQuantile, weibullQuantile } from './special-functions.ts'

export type Interval = readonly [low: number, high: number]

/** A Weibull fit; `scale` and `b10` in the unit of the lives. */
export interface LifetimeFit {
  readonly shape: number
  readonly scale: number
  /** Natural logarithm; exact failures count with their density. */
  readonly logLikelihood: number
  /** Akaike's criterion with two parameters. */
  readonly aic: number
  /** From the curvature at the maximum, symmetric in the logarithm. */
  readonly shapeInterval: Interval
  readonly scaleInterval: Interval
  /** From the profile likelihood: wider and truer for few cells; a side without an end is 0 or Infinity. */
  readonly profileIntervals: { readonly shape: Interval; readonly scale: Interval }
  /** Life by which one in ten has failed. */
  readonly b10: number
}

/** Why data fix no Weibull life. */
export interface NoFit {
  readonly reason: string
}

/**
 * Maximum likelihood of a two-parameter Weibull life for exact, interval-censored and running (right-censored) lives.
 *
 * For a given shape the likelihood has one maximum over the scale, so the search is one inside the other
 * and needs no starting guess.
 * @param lifetimes - in any unit; `failedBetween` may start at 0
 * @param level - of the intervals, above 0 and below 1
 * @returns the fit, or the reason why there is none
 * @throws RangeError when the level is out of its range, or a life is negative, not finite, or ends before it starts;
 *   the message names the argument, its index and the value
 * @see NIST/SEMATECH e-Handbook 8.4.1.2 (likelihood), 8.4.1.3 (the worked example); Meeker & Escobar 1998, 8.3 (profiles)
 * @example
 * import { fitLifetimes } from 'sashtally'
 * const fit = fitLifetimes([{ failedAt: 12 }, { failedAt: 19 }, { failedAt: 23 }, { runningAt: 25 }])
 * console.log('shape' in fit) // true
 */
export function fitLifetimes(lifetimes: readonly Lifetime[], level = 0.95): LifetimeFit | NoFit {
  must(level > 0 && level < 1, 'level', level, 'above 0 and below 1')
  const lives = grouped(lifetimes)
  const failures = lifetimes.filter(life => !('runningAt' in life)).length
  if (failures === 0) return { reason: 'no cell has failed yet: nothing bounds how long they last' }
  const point = commonPoint(lifetimes)
  if (point !== undefined) {
    return { reason: `every life agrees with failing at ${point}: lives that are all equal fix no spread` }
  }

  const unit = lives.reduce((most, life) => Math.max(most, life.from, life.to === Infinity ? 0 : life.to), 0)
  const scaled = lives.map(life => ({ ...life, from: life.from / unit, to: life.to / unit }))
  const profileOfShape = (logShape: number) => peak(likelihoodAt(scaled, logShape), -40, 40)
  const best = peak(logShape => profileOfShape(logShape).height, Math.log(0.02), Math.log(2000))
  if (best.atEnd) {
    return {
      reason:
        best.at > 0
          ? 'these lives are so nearly equal that they fix no spread (shape above 2000)'
          : 'these lives fix no shape: the likelihood rises as the shape falls to 0',
    }
  }
  const logShape = best.at
  const logScale = profileOfShape(logShape).at
  const f = (shape: number, scale: number): number => likelihoodAt(scaled, shape)(scale)

  const z = normalQuantile((1 + level) / 2)
  const [shapeSd, scaleSd] = spreads(f, logShape, logScale)
  const floor = best.height - (z * z) / 2
  const shapeEnds = ends(x => profileOfShape(x).height - floor, logShape, shapeSd)
  const scaleEnds = () =>
    ends(y => peak(x => f(x, y), Math.log(0.02), Math.log(2000)).height - floor, logScale, scaleSd)
  const exact = lifetimes.filter(life => 'failedAt' in life).length
  const height = best.height - exact * Math.log(unit)
  const shape = Math.exp(logShape)
  const scale = unit * Math.exp(logScale)
  const times = (value: number, [low, high]: Interval): Interval => [value * Math.exp(low), value * Math.exp(high)]
  return {
    shape,
    scale,
    logLikelihood: height,
    aic: 4 - 2 * height,
    shapeInterval: times(shape, [-z * shapeSd, z * shapeSd]),
    scaleInterval: times(scale, [-z * scaleSd, z * scaleSd]),
    profileIntervals: {
      shape: times(1, shapeEnds),
      // costs more than all the rest: worked out where somebody asks
      get scale() {
        return times(unit, scaleEnds())
      },
    },
    b10: weibullQuantile(0.1, shape, scale),
  }
}

interface Group {
  /** Exact: `from` equals `to`. Running: `to` is Infinity. */
  readonly from: number
  readonly to: number
  readonly cells: number
}

const isPair = (value: unknown): boolean => Array.isArray(value) && value.length === 2

function grouped(lifetimes: readonly Lifetime[]): Group[] {
  const groups = new Map<string, { from: number; to: number; cells: number }>()
  must(Array.isArray(lifetimes), 'lifetimes', lifetimes, 'a list')
  for (const [index, life] of lifetimes.entries()) {
    const isKnown = life instanceof Object && ('failedAt' in life || 'runningAt' in life || isPair(life.failedBetween))
    must(isKnown, `lifetimes[${index}]`, life, 'a life with failedAt, failedBetween or runningAt')
    const [from, to] =
      'failedAt' in life
        ? [life.failedAt, life.failedAt]
        : 'runningAt' in life
          ? [life.runningAt, Infinity]
          : life.failedBetween
    const fine = 'failedBetween' in life ? from >= 0 && to > from && to < Infinity : from >= 0 && from < Infinity
    const isLife = fine && !('failedAt' in life && from === 0)
    must(isLife, `lifetimes[${index}]`, life, 'finite, 0 or more, and end after it starts')
    if (from === 0 && to === Infinity) continue
    const key = `${from} ${to}`
    const old = groups.get(key)
    if (old) old.cells++
    else groups.set(key, { from, to, cells: 1 })
  }
  return [...groups.values()]
}

/** A life that every failure and every running cell allows: then the likelihood grows without end with the shape. */
function commonPoint(lifetimes: readonly Lifetime[]): number | undefined {
  let low = 0
  let high = Infinity
  for (const life of lifetimes) {
    if ('failedAt' in life) {
      low = Math.max(low, life.failedAt)
      high = Math.min(high, life.failedAt)
    } else if ('failedBetween' in life) {
      low = Math.max(low, life.failedBetween[0])
      high = Math.min(high, life.failedBetween[1])
    } else low = Math.max(low, life.runningAt)
  }
  return low <= high ? high : undefined
}

/** Log-likelihood of a scale at one shape: all hazards are those of scale 1 times one factor. */
function likelihoodAt(lives: readonly Group[], logShape: number): (logScale: number) => number {
  const shape = Math.exp(logShape)
  const ended = lives
    .filter(({ to }) => to < Infinity)
    .map(({ from, to, cells }) => ({ from, to, cells, hazard: from ** shape, later: to ** shape }))
  const running = lives.reduce((sum, { from, to, cells }) => (to < Infinity ? sum : sum + cells * from ** shape), 0)
  return logScale => {
    const factor = Math.exp(-shape * logScale)
    let sum = -running * factor
    for (const { from, to, cells, hazard, later } of ended) {
      sum +=
        to === from
          ? cells * (logShape + shape * (Math.log(from) - logScale) - Math.log(from) - hazard * factor)
          : cells * (Math.log(-Math.expm1((hazard - later) * factor)) - hazard * factor)
    }
    return Number.isNaN(sum) ? -Infinity : sum
  }
}

const GOLDEN = (Math.sqrt(5) - 1) / 2

/** Highest point of a function with one peak: a coarse walk to bracket it, then golden sections with parabolas. */
function peak(f: (x: number) => number, low: number, high: number) {
  const steps = 24
  const step = (high - low) / steps
  let top = 0
  let height = -Infinity
  for (let i = 0; i <= steps; i++) {
    const y = f(low + i * step)
    if (y > height) {
      height = y
      top = i
    }
  }
  const atEnd = top === 0 || top === steps
  let a = low + Math.max(0, top - 1) * step
  let b = low + Math.min(steps, top + 1) * step
  let x = low + top * step
  let fx = height
  for (let i = 0; i < 200 && b - a > 1e-9; i++) {
    const h = Math.min(1e-4, (b - a) / 4)
    const up = f(x + h)
    const down = f(x - h)
    const slope = (up - down) / (2 * h)
    const curve = (up - 2 * fx + down) / (h * h)
    let next = curve < 0 ? x - slope / curve : Number.NaN
    if (!(next > a && next < b)) next = x - a > b - x ? x - GOLDEN * 0.5 * (x - a) : x + GOLDEN * 0.5 * (b - x)
    if (Math.abs(next - x) < 1e-9) return { at: x, height: fx, atEnd }
    const y = f(next)
    if (y > fx) {
      if (next > x) a = x
      else b = x
      x = next
      fx = y
    } else {
      if (next > x) b = next
      else a = next
      if (Math.abs(next - x) < 1e-7) return { at: x, height: fx, atEnd }
    }
  }
  return { at: x, height: fx, atEnd }
}

/** Standard deviations of both logarithms from the curvature at the maximum. */
function spreads(f: (x: number, y: number) => number, x: number, y: number): [number, number] {
  const h = 1e-3
  const f0 = f(x, y)
  const xx = (f(x + h, y) - 2 * f0 + f(x - h, y)) / (h * h)
  const yy = (f(x, y + h) - 2 * f0 + f(x, y - h)) / (h * h)
  const xy = (f(x + h, y + h) - f(x + h, y - h) - f(x - h, y + h) + f(x - h, y - h)) / (4 * h * h)
  const det = xx * yy - xy * xy
  return [Math.sqrt(-yy / det), Math.sqrt(-xx / det)]
}

/** Where a function that is above 0 at `x` crosses it on either side; no crossing within reach has no end there. */
function ends(f: (x: number) => number, x: number, sd: number): Interval {
  const reach = (way: 1 | -1): number => {
    let near = x
    let far = x + way * sd
    while (f(far) > 0) {
      near = far
      far += way * sd
      if (Math.abs(far - x) > 40 * sd + 5) return way * Infinity
    }
    return root(f, near, far, 1e-8)
  }
  return [reach(-1), reach(1)]
}
