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

/** Step of the differences. */
const H = 1e-2

/**
 * Gradient and curvature by central differences; for the mixed ones two further points each.
 * @param f0 - the height there
 */
function slopesAt(f: (at: Vector) => number, at: Vector, f0: number): Slopes {
  const unit = (axis: number): Vector => [axis === 0 ? 1 : 0, axis === 1 ? 1 : 0, axis === 2 ? 1 : 0]
  const ends = [0, 1, 2].map(axis => [f(plus(at, unit(axis), H)), f(plus(at, unit(axis), -H))] as const)
  const gradient = ends.map(([up, down]) => (up - down) / (2 * H)) as unknown as Vector
  const second = ends.map(([up, down]) => (up - 2 * f0 + down) / (H * H))
  const mixed = (a: number, b: number): number => {
    const both = plus(unit(a), unit(b))
    const sum = f(plus(at, both, H)) + f(plus(at, both, -H)) - 2 * f0
    return sum / (2 * H * H) - (second[a]! + second[b]!) / 2
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
/** A ridge that has not been climbed by then is left: the lattice grows uphill by itself (`flood.ts`). */
const MOST_ROUNDS = 40
/** Tried one after the other, as shares of the strongest curvature. */
const DAMPINGS = [0, 0.001, 0.01, 0.1, 1, 10] as const

/**
 * The highest point from the origin on: Newton steps, shorter where they lead downhill and turned uphill as far as the
 * curvature is that of no peak (Levenberg 1944, Q. Appl. Math. 2, 164, from memory).
 */
export function climb(f: (at: Vector) => number): Peak {
  let at: Vector = [0, 0, 0]
  let slopes = slopesAt(f, at, f(at))
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const step = stepOf(slopes)
    const length = Math.hypot(...step)
    if (!(length > 0 && length < Infinity)) break
    let share = Math.min(1, STRIDE / length)
    let next = plus(at, step, share)
    let height = f(next)
    while (share * length > 1e-4 && !(height >= slopes.f0)) {
      share /= 2
      next = plus(at, step, share)
      height = f(next)
    }
    if (share * length <= 1e-2) break
    at = next
    slopes = slopesAt(f, at, height)
  }
  return { at, height: slopes.f0, root: rootOf(covariance(slopes.curve) ?? [1, 0, 0, 1, 0, 1]) }
}

function stepOf({ gradient, curve: [xx, xy, xz, yy, yz, zz] }: Slopes): Vector {
  const [gx, gy, gz] = gradient
  const size = Math.max(1, Math.abs(xx), Math.abs(yy), Math.abs(zz))
  for (const share of DAMPINGS) {
    const damping = share * size
    const cov = covariance([xx - damping, xy, xz, yy - damping, yz, zz - damping])
    if (!cov) continue
    const [a = 0, b = 0, c = 0, d = 0, e = 0, g = 0] = cov
    return [a * gx + b * gy + c * gz, b * gx + d * gy + e * gz, c * gx + e * gy + g * gz]
  }
  return gradient
}
