/**
 * What is known of how long the cells of one kind last, in sends: a grid over (median, shape) of a Weibull life.
 *
 * Prior (common practice gives the model, no source gives a spread): the median is log-normal around the model
 * with 90 % within a factor of 1.5, or 3 where no count is known for that kind; the shape is log-normal with
 * median 3 and 90 % within 2 to 4.5. The median is kept as a ratio to each cell's own model.
 */

/** Life of one cell in sends. `failedAt` is exact (bench); a dead contact is only known to lie between two tries. */
export type Lifetime =
  | { readonly failedAt: number }
  | { readonly failedBetween: readonly [lastThrough: number, firstFailed: number] }
  | { readonly runningAt: number }

/** Sends before the count began: values and their chances, given that the cell still worked when it began. */
export interface Ages {
  readonly sends: readonly number[]
  readonly chances: readonly number[]
}
export const COUNTED_FROM_NEW: Ages = { sends: [0], chances: [1] }

/** A life with the model of its own cell and how many cells lived it. */
export interface Datum {
  readonly life: Lifetime
  readonly modelMedian: number
  readonly ages: Ages
  readonly cells: number
}

/** Weighted points; `logRatio` is ln(median / model). Weights add up to 1. */
export interface Posterior {
  readonly logRatio: Float64Array
  readonly shape: Float64Array
  readonly weight: Float64Array
}

const Z90 = 1.6448536269514722
const SHAPE = { median: 3, sd: Math.log(1.5) / Z90 }
const SD_KNOWN = Math.log(1.5) / Z90
const SD_UNKNOWN = Math.log(3) / Z90

/** Hazard summed up to `sends` in a Weibull life: ln 2 (sends / median)^shape. */
export const summedHazard = (sends: number, logMedian: number, shape: number): number =>
  sends <= 0 ? 0 : Math.LN2 * Math.exp(shape * (Math.log(sends) - logMedian))

/** Log-likelihood of one life from age `age` on, given that the cell worked then. */
function logLife(life: Lifetime, age: number, logMedian: number, shape: number): number {
  const before = summedHazard(age, logMedian, shape)
  if ('runningAt' in life) return before - summedHazard(age + life.runningAt, logMedian, shape)
  if ('failedAt' in life) {
    const at = summedHazard(age + life.failedAt, logMedian, shape)
    return before - at + Math.log((at * shape) / (age + life.failedAt))
  }
  const [a, b] = life.failedBetween
  const from = summedHazard(age + a, logMedian, shape)
  return before - from + Math.log(-Math.expm1(from - summedHazard(age + b, logMedian, shape)))
}

/** Logarithm of the sum of exponentials, without underflow. */
function logSum(logs: readonly number[]): number {
  const top = Math.max(...logs)
  if (top === -Infinity) return -Infinity
  return top + Math.log(logs.reduce((sum, log) => sum + Math.exp(log - top), 0))
}

function logLikelihood(data: readonly Datum[], logRatio: number, shape: number): number {
  let sum = 0
  for (const { life, modelMedian, ages, cells } of data) {
    const logMedian = Math.log(modelMedian) + logRatio
    if (ages.sends.length === 1) {
      sum += cells * logLife(life, ages.sends[0]!, logMedian, shape)
      continue
    }
    const logs = ages.sends.map((age, j) => Math.log(ages.chances[j]!) + logLife(life, age, logMedian, shape))
    sum += cells * logSum(logs)
  }
  return sum
}

/**
 * Posterior of one kind of cell.
 * @param data - lives of this kind, equal ones joined
 * @param countKnown - whether a count is known in the trade for this kind: narrows the prior
 * @param moved - how far the grid's answers move between two fineness steps, relative; told by the caller
 *   because only it knows which answers it wants
 */
export function posteriorOf(
  data: readonly Datum[],
  countKnown: boolean,
  moved: (coarse: Posterior, fine: Posterior) => number,
): Posterior {
  const sd = countKnown ? SD_KNOWN : SD_UNKNOWN
  const place = (z: Point): Point => [z[0] * sd, SHAPE.median * Math.exp(z[1] * SHAPE.sd)]
  const height = (z: Point): number => {
    const [logRatio, shape] = place(z)
    const value = logLikelihood(data, logRatio, shape) - (z[0] * z[0] + z[1] * z[1]) / 2
    return Number.isNaN(value) ? -Infinity : value
  }
  const mode = climb(height)
  const box = frame(height, mode)
  let coarse = lay(height, place, mode, box, 1)
  for (let step = 1 / 2; step >= 1 / 16; step /= 2) {
    const fine = lay(height, place, mode, box, step)
    const by = moved(coarse, fine)
    if (by < 0.0005) return coarse
    coarse = fine
    if (by < 0.005) break
  }
  return coarse
}

type Point = readonly [number, number]

/** Gradient and curvature by central differences. */
function slopes(f: (z: Point) => number, z: Point, h = 1e-3) {
  const [x, y] = z
  const f0 = f(z)
  const fx = f([x + h, y])
  const bx = f([x - h, y])
  const fy = f([x, y + h])
  const by = f([x, y - h])
  const cross = f([x + h, y + h]) - f([x + h, y - h]) - f([x - h, y + h]) + f([x - h, y - h])
  return {
    f0,
    gx: (fx - bx) / (2 * h),
    gy: (fy - by) / (2 * h),
    xx: (fx - 2 * f0 + bx) / (h * h),
    yy: (fy - 2 * f0 + by) / (h * h),
    xy: cross / (4 * h * h),
  }
}

/** The highest point: damped Newton steps, straight uphill where the curvature is of no use. */
function climb(f: (z: Point) => number): Point {
  let z: Point = [0, 0]
  for (let i = 0; i < 100; i++) {
    const s = slopes(f, z)
    const det = s.xx * s.yy - s.xy * s.xy
    let dx = s.gx
    let dy = s.gy
    if (s.xx < 0 && det > 0) {
      dx = (-s.yy * s.gx + s.xy * s.gy) / det
      dy = (s.xy * s.gx - s.xx * s.gy) / det
    }
    const length = Math.hypot(dx, dy)
    if (length > 2) {
      dx *= 2 / length
      dy *= 2 / length
    }
    let share = 1
    let next: Point = [z[0] + dx, z[1] + dy]
    while (f(next) < s.f0 && share > 1e-6) {
      share /= 2
      next = [z[0] + share * dx, z[1] + share * dy]
    }
    if (share <= 1e-6) return z
    z = next
    if (share * length < 1e-4) return z
  }
  return z
}

interface Box {
  /** Columns of the lower triangular root of the covariance at the mode. */
  readonly root: readonly [number, number, number]
  readonly low: [number, number]
  readonly high: [number, number]
}

/** Six standard deviations each way, further where the height at the rim still counts. */
function frame(f: (z: Point) => number, mode: Point): Box {
  const s = slopes(f, mode)
  const det = s.xx * s.yy - s.xy * s.xy
  const fits = s.xx < 0 && det > 0
  const vx = fits ? -s.yy / det : 1
  const vy = fits ? -s.xx / det : 1
  const cov = fits ? s.xy / det : 0
  const a = Math.sqrt(vx)
  const box: Box = {
    root: [a, cov / a, Math.sqrt(Math.max(1e-12, vy - (cov * cov) / vx))],
    low: [-6, -6],
    high: [6, 6],
  }
  for (let round = 0; round < 40; round++) {
    let grown = false
    for (const axis of [0, 1] as const) {
      for (const side of ['low', 'high'] as const) {
        let rim = -Infinity
        const other = axis === 0 ? 1 : 0
        for (let t = box.low[other]; t <= box.high[other]; t++) {
          const u: [number, number] = [t, t]
          u[axis] = box[side][axis]
          rim = Math.max(rim, f(at(mode, box, u)))
        }
        if (rim < s.f0 - 16) continue
        box[side][axis] += side === 'low' ? -1 : 1
        grown = true
      }
    }
    if (!grown) break
  }
  return box
}

const at = (mode: Point, { root }: Box, u: Point): Point => [
  mode[0] + root[0] * u[0],
  mode[1] + root[1] * u[0] + root[2] * u[1],
]

/** Weights on a square lattice: for a smooth peak the trapezoidal rule converges faster than any power of the step. */
function lay(f: (z: Point) => number, place: (z: Point) => Point, mode: Point, box: Box, step: number): Posterior {
  const top = f(mode)
  const points: [number, number, number][] = []
  let sum = 0
  for (let u = box.low[0]; u <= box.high[0] + 1e-9; u += step) {
    for (let v = box.low[1]; v <= box.high[1] + 1e-9; v += step) {
      const z = at(mode, box, [u, v])
      const weight = Math.exp(f(z) - top)
      if (!(weight > 1e-8)) continue
      const [logRatio, shape] = place(z)
      points.push([logRatio, shape, weight])
      sum += weight
    }
  }
  return {
    logRatio: Float64Array.from(points, p => p[0]),
    shape: Float64Array.from(points, p => p[1]),
    weight: Float64Array.from(points, p => p[2] / sum),
  }
}
