/** The parts of the general statistics library that the checks use; it ships no types. */
declare module 'jstat' {
  interface Distribution {
    pdf(x: number, ...parameters: number[]): number
    cdf(x: number, ...parameters: number[]): number
    inv(p: number, ...parameters: number[]): number
  }
  const jStat: {
    weibull: Distribution
    gamma: Distribution
    normal: Distribution
    beta: { pdf(x: number, a: number, b: number): number }
    binomial: { pdf(k: number, n: number, p: number): number }
    poisson: { pdf(k: number, mean: number): number; cdf(k: number, mean: number): number }
    negbin: { pdf(k: number, r: number, p: number): number }
    gammaln(x: number): number
    gammafn(x: number): number
    lowRegGamma(a: number, x: number): number
  }
  export default { jStat }
}
