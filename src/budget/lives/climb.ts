/** Finding the top of a smooth function of three coordinates, and how wide it is there. */

export type Vector = readonly [number, number, number]

export interface Peak {
  readonly at: Vector
  readonly height: number
  /** Lower triangular root of the covariance, row by row: a step of one standard deviation along its first column, … */
  readonly root: readonly [xx: number, yx: number, yy: number, zx: number, zy: number, zz: number]
}

const plus = (a: Vector, b: Vector, times = 1): Vector => [
  a[0] + times * b[0],
  a[1] + times * b[1],
  a[2] + times * b[2],
]

interface Slopes {
  readonly f0: number
  readonly gradient: Vector
  /** Second derivatives, upper triangle row by row. */
  readonly curve: readonly [number, number, number, number, number, number]
}

/** Gradient and curvature by central differences; for the mixed ones two further points each. */
function slopesAt(f: (at: Vector) => number, at: Vector, h = 1e-2): Slopes {
  const unit = (axis: number): Vector => [axis === 0 ? 1 : 0, axis === 1 ? 1 : 0, axis === 2 ? 1 : 0]
  const f0 = f(at)
  const ends = [0, 1, 2].map(axis => [f(plus(at, unit(axis), h)), f(plus(at, unit(axis), -h))] as const)
  const gradient = ends.map(([up, down]) => (up - down) / (2 * h)) as unknown as Vector
  const second = ends.map(([up, down]) => (up - 2 * f0 + down) / (h * h))
  const mixed = (a: number, b: number): number => {
    const both = plus(unit(a), unit(b))
    const sum = f(plus(at, both, h)) + f(plus(at, both, -h)) - 2 * f0
    return sum / (2 * h * h) - (second[a]! + second[b]!) / 2
  }
  return { f0, gradient, curve: [second[0]!, mixed(0, 1), mixed(0, 2), second[1]!, mixed(1, 2), second[2]!] }
}

/** Covariance from the curvature of a logarithm; undefined where that is no peak. */
function covariance([xx, xy, xz, yy, yz, zz]: Slopes['curve']): number[] | undefined {
  const [a, b, c] = [yy * zz - yz * yz, xz * yz - xy * zz, xy * yz - xz * yy]
  const det = xx * a + xy * b + xz * c
  const isPeak = xx < 0 && xx * yy - xy * xy > 0 && det < 0
  if (!isPeak) return undefined
  const values = [a, b, c, xx * zz - xz * xz, xy * xz - xx * yz, xx * yy - xy * xy]
  return values.map(value => -value / det)
}

/** Cholesky's root, each diagonal at least a little above 0. */
function rootOf(cov: readonly number[]): Peak['root'] {
  const [cxx = 1, cxy = 0, cxz = 0, cyy = 1, cyz = 0, czz = 1] = cov
  const least = 1e-12
  const xx = Math.sqrt(Math.max(least, cxx))
  const [yx, zx] = [cxy / xx, cxz / xx]
  const yy = Math.sqrt(Math.max(least, cyy - yx * yx))
  const zy = (cyz - zx * yx) / yy
  return [xx, yx, yy, zx, zy, Math.sqrt(Math.max(least, czz - zx * zx - zy * zy))]
}

/** Longest step of one round. */
const STRIDE = 2

/** The highest point from the origin on: damped Newton steps, straight uphill where the curvature is of no use. */
export function climb(f: (at: Vector) => number): Peak {
  let at: Vector = [0, 0, 0]
  let slopes = slopesAt(f, at)
  let cov = covariance(slopes.curve)
  for (let round = 0; round < 100; round++) {
    const [gx, gy, gz] = slopes.gradient
    let step: Vector = [gx, gy, gz]
    if (cov) {
      const [xx = 0, xy = 0, xz = 0, yy = 0, yz = 0, zz = 0] = cov
      step = [xx * gx + xy * gy + xz * gz, xy * gx + yy * gy + yz * gz, xz * gx + yz * gy + zz * gz]
    }
    const length = Math.hypot(...step)
    if (!(length > 0)) break
    let share = Math.min(1, STRIDE / length)
    while (share * length > 1e-4 && !(f(plus(at, step, share)) >= slopes.f0)) share /= 2
    if (share * length <= 1e-2) break
    at = plus(at, step, share)
    slopes = slopesAt(f, at)
    cov = covariance(slopes.curve)
  }
  return { at, height: slopes.f0, root: rootOf(cov ?? [1, 0, 0, 1, 0, 1]) }
}
