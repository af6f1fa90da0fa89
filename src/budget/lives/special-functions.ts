/**
 * Special functions that the forecasts need, for real arguments.
 * Kept small because this folder may import nothing.
 */

const LANCZOS = [
  0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313, -176.61502916214059,
  12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6, 1.5056327351493116e-7,
]

/**
 * Natural logarithm of the gamma function.
 * @param x - above 0
 * @returns relative error under 1e-13 for x above 0.5
 * @see Lanczos (1964), SIAM J. Numer. Anal. 1, 86; coefficients for g = 7, n = 9 after P. Godfrey, from memory
 */
export function logGamma(x: number): number {
  if (!(x > 0)) throw new RangeError(`x must be above 0, not ${x}`)
  if (x < 0.5) return Math.log(Math.PI / Math.sin(Math.PI * x)) - logGamma(1 - x)
  const y = x - 1
  let sum = LANCZOS[0]!
  for (let i = 1; i < LANCZOS.length; i++) sum += LANCZOS[i]! / (y + i)
  const t = y + 7.5
  return 0.5 * Math.log(2 * Math.PI) + (y + 0.5) * Math.log(t) - t + Math.log(sum)
}

/**
 * Regularised lower incomplete gamma function P(a, x), the distribution function of a gamma variable of scale 1.
 * @param a - shape, above 0
 * @param x - 0 or more
 * @returns 0 to 1
 * @see DLMF 8.7.1 (series, x below a + 1) and 8.9.2 (continued fraction, above)
 */
export function gammaLower(a: number, x: number): number {
  if (!(a > 0)) throw new RangeError(`a must be above 0, not ${a}`)
  if (!(x >= 0)) throw new RangeError(`x must be 0 or more, not ${x}`)
  if (x === 0) return 0
  if (x === Infinity) return 1
  const front = Math.exp(a * Math.log(x) - x - logGamma(a))
  if (x < a + 1) {
    let term = 1 / a
    let sum = term
    for (let n = 1; n < 10_000 && term > sum * 1e-17; n++) {
      term *= x / (a + n)
      sum += term
    }
    return Math.min(1, front * sum)
  }
  // Lentz's method on DLMF 8.9.2
  let b = x + 1 - a
  let c = 1e300
  let d = 1 / b
  let h = d
  for (let n = 1; n < 10_000; n++) {
    const an = -n * (n - a)
    b += 2
    d = an * d + b
    if (Math.abs(d) < 1e-300) d = 1e-300
    c = b + an / c
    if (Math.abs(c) < 1e-300) c = 1e-300
    d = 1 / d
    const step = d * c
    h *= step
    if (Math.abs(step - 1) < 1e-16) break
  }
  return Math.max(0, 1 - front * h)
}

/**
 * Quantile of a gamma variable of scale 1: the x with P(a, x) = p.
 * @param p - 0 to 1
 * @param a - shape, above 0
 * @returns 0 or more; Infinity for p = 1
 */
export function gammaQuantile(p: number, a: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`p must lie in 0 to 1, not ${p}`)
  if (p === 0) return 0
  if (p === 1) return Infinity
  let low = 0
  let high = Math.max(1, a)
  while (gammaLower(a, high) < p) {
    low = high
    high *= 2
  }
  // small p at small a: P(a, x) is close to x^a / Gamma(a + 1)
  let x = Math.min(high, Math.exp((Math.log(p) + logGamma(a + 1)) / a))
  if (!(x > low)) x = (low + high) / 2
  for (let i = 0; i < 200; i++) {
    const off = gammaLower(a, x) - p
    if (off > 0) high = x
    else low = x
    const slope = Math.exp((a - 1) * Math.log(x) - x - logGamma(a))
    let next = x - off / slope
    if (!(next > low && next < high)) next = low > 0 ? Math.sqrt(low * high) : high / 2
    if (Math.abs(next - x) <= 1e-14 * x) return next
    x = next
  }
  return x
}

/**
 * Quantile of the standard normal distribution, through the chi-squared distribution of one degree of freedom.
 * @param p - above 0 and below 1
 */
export function normalQuantile(p: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`p must lie between 0 and 1, not ${p}`)
  return Math.sign(p - 0.5) * Math.sqrt(2 * gammaQuantile(Math.abs(2 * p - 1), 0.5))
}

/** Distribution function of the standard normal distribution. */
export function normalCdf(z: number): number {
  const half = gammaLower(0.5, (z * z) / 2) / 2
  return z < 0 ? 0.5 - half : 0.5 + half
}

/**
 * Quantile of a Weibull distribution.
 * @param p - 0 up to, not including, 1
 * @see NIST/SEMATECH e-Handbook 8.1.6.2
 */
export const weibullQuantile = (p: number, shape: number, scale: number): number =>
  scale * (-Math.log1p(-p)) ** (1 / shape)

/**
 * Points and weights on 0 to 1 that integrate polynomials up to degree 2n - 1 exactly.
 * @param n - how many points, 1 or more
 * @see DLMF 3.5.15 with Legendre polynomials by their recurrence, 18.9.1
 */
export function gaussLegendre(n: number): { readonly at: number; readonly weight: number }[] {
  return Array.from({ length: n }, (_, i) => {
    let x = -Math.cos((Math.PI * (i + 0.75)) / (n + 0.5))
    let slope = 1
    for (let step = 0; step < 20; step++) {
      let [before, value] = [1, x]
      for (let k = 2; k <= n; k++) [before, value] = [value, ((2 * k - 1) * x * value - (k - 1) * before) / k]
      slope = (n * (before - x * value)) / (1 - x * x)
      const next = x - value / slope
      if (Math.abs(next - x) < 1e-15) break
      x = next
    }
    return { at: (1 + x) / 2, weight: 1 / ((1 - x * x) * slope * slope) }
  })
}
