/**
 * Root of a continuous function between two points of opposite sign: false position with the Illinois step,
 * bisection whenever that stalls. Deterministic; exact in two steps for a straight line.
 * @param low - f(low) and f(high) must differ in sign (0 counts as either)
 * @param within - width of the bracket at which it may stop; default: 1e-14 of x
 * @returns x with the bracket shrunk so far
 */
export function root(f: (x: number) => number, low: number, high: number, within = 0): number {
  let a = low
  let b = high
  let fa = f(a)
  let fb = f(b)
  if (fa === 0) return a
  if (fb === 0) return b
  if (fa > 0 === fb > 0) throw new RangeError(`no change of sign between ${low} (${fa}) and ${high} (${fb})`)
  for (let step = 0, side = 0, before = Number.POSITIVE_INFINITY; step < 200; step++) {
    const width = b - a
    if (Math.abs(width) <= Math.max(within, 1e-14 * Math.max(Math.abs(a), Math.abs(b)))) break
    const stalls = Math.abs(width) > before / 2
    before = Math.abs(width)
    let x = stalls ? a + width / 2 : b - (fb * width) / (fb - fa)
    if (!(x > Math.min(a, b) && x < Math.max(a, b))) x = a + width / 2
    if (x === a || x === b) break
    const fx = f(x)
    if (fx === 0) return x
    if (fx > 0 === fb > 0) {
      b = x
      fb = fx
      if (side === 1) fa /= 2
      side = 1
    } else {
      a = x
      fa = fx
      if (side === -1) fb /= 2
      side = -1
    }
  }
  return Math.abs(fa) < Math.abs(fb) ? a : b
}
