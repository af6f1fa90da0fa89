import jstat from 'jstat'
import { describe, expect, it } from 'vitest'
import {
  isSilentBeyond,
  meanRate,
  openingChances,
  poissonCdf,
  rateOf,
  rateQuantile,
  silenceChance,
  silencePoint,
} from '../../src/budget/lives/rate.ts'
import {
  gammaLower,
  gammaQuantile,
  gaussLegendre,
  logGamma,
  normalCdf,
  normalQuantile,
  weibullQuantile,
} from '../../src/budget/lives/special-functions.ts'

const { jStat } = jstat
const near = (found: number, wanted: number, relative: number): void =>
  expect(Math.abs(found - wanted)).toBeLessThanOrEqual(relative * Math.max(Math.abs(wanted), 1e-12))

describe('against exact values', () => {
  it('the gamma function of whole and half numbers is exact to 13 digits', () => {
    let factorial = 1
    for (let n = 1; n <= 20; n++) {
      near(Math.exp(logGamma(n)), factorial, 1e-13 * Math.max(1, n))
      factorial *= n
    }
    near(logGamma(0.5), Math.log(Math.sqrt(Math.PI)), 1e-13)
    near(Math.exp(logGamma(1.5)), Math.sqrt(Math.PI) / 2, 1e-13)
  })

  it('the incomplete gamma function of shape 1 is 1 - exp(-x), of shape 1/2 the error function', () => {
    for (const x of [1e-6, 0.1, 1, 1.9, 2.1, 5, 30]) near(gammaLower(1, x), -Math.expm1(-x), 1e-13)
    // erf(1): DLMF table 7.23 (from memory)
    near(gammaLower(0.5, 1), 0.8427007929497149, 1e-13)
  })

  it('the chi-squared and normal quantiles of the tables come out (NIST/SEMATECH e-Handbook 1.3.6.7.4 and 1.3.6.7.1)', () => {
    expect(2 * gammaQuantile(0.95, 0.5)).toBeCloseTo(3.841, 3)
    expect(2 * gammaQuantile(0.95, 5)).toBeCloseTo(18.307, 3)
    expect(normalQuantile(0.975)).toBeCloseTo(1.96, 3)
    expect(normalCdf(1)).toBeCloseTo(0.84134, 5)
  })
})

describe('against a general statistics library', () => {
  it('log-gamma, incomplete gamma and their quantiles agree', () => {
    for (const a of [0.3, 0.5, 1, 2.5, 7, 40, 300]) {
      expect(Math.abs(logGamma(a) - jStat.gammaln(a))).toBeLessThan(1e-9 * Math.max(1, a))
      for (const p of [1e-4, 0.05, 0.3, 0.5, 0.95, 0.9999]) {
        const x = gammaQuantile(p, a)
        near(gammaLower(a, x), p, 1e-10)
        near(jStat.lowRegGamma(a, x), p, 1e-8)
      }
    }
  })

  it('Weibull quantiles agree', () => {
    for (const shape of [0.6, 1, 2.257, 3, 8]) {
      for (const p of [0.01, 0.1, 0.5, 0.9, 0.999]) {
        near(weibullQuantile(p, shape, 4900.1), jStat.weibull.inv(p, 4900.1, shape), 1e-10)
      }
    }
  })

  it('chances of counts at an uncertain rate are those of a gamma mixture of Poisson counts', () => {
    const rate = rateOf({ openingsPerYear: 100, observedOpenings: 7, observedDays: 30 })!
    const chances = openingChances(rate, 45, 60)!
    expect(chances.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 6)
    const years = 45 / 365.25
    for (const k of [0, 1, 8, 20]) {
      let mixed = 0
      const step = 0.05
      for (let r = step / 2; r < 500; r += step) {
        mixed += step * jStat.gamma.pdf(r, rate.openings, 1 / rate.years) * jStat.poisson.pdf(k, r * years)
      }
      near(chances[k]!, mixed, 1e-6)
    }
    near(rateQuantile(rate, 0.9), jStat.gamma.inv(0.9, rate.openings, 1 / rate.years), 1e-8)
  })
})

it('buying spares: twelve contacts, a Weibull life of 300 and 3, 120 openings a year', () => {
  // Poisson with the expected number of first deaths; the published-style table is computed, no source
  const failing = -Math.expm1(-((120 / 300) ** 3))
  const binomial = (most: number): number => {
    let sum = 0
    for (let k = 0, ways = 1; k <= most; ways = (ways * (12 - k)) / (k + 1), k++) {
      sum += ways * failing ** k * (1 - failing) ** (12 - k)
    }
    return sum
  }
  expect([0, 1, 2, 3].map(k => binomial(k).toFixed(4))).toEqual(['0.4639', '0.8319', '0.9656', '0.9951'])
  expect(poissonCdf(1, 12 * failing)).toBeCloseTo(jStat.poisson.cdf(1, 12 * failing), 10)
})

describe('how often something is opened', () => {
  it('a guess weighs as two openings, and what is seen soon outweighs it', () => {
    const mean = (observedOpenings: number, observedDays: number): number => {
      const rate = rateOf({ openingsPerYear: 100, observedOpenings, observedDays })!
      return rate.openings / rate.years
    }
    expect(mean(0, 0)).toBeCloseTo(100, 10)
    expect(mean(10, 365.25)).toBeLessThan(15)
  })

  it('nothing seen in no time and no guess is no rate', () => {
    expect(rateOf({ observedOpenings: 0, observedDays: 0 })).toBeUndefined()
  })
  it('two openings while it is fitted make no habit: without a guess two weeks are the least time', () => {
    const rate = rateOf({ observedOpenings: 2, observedDays: 0.002 })!
    expect(meanRate(rate)).toBeCloseTo((2.5 / 14) * 365.25, 9)
    expect(silencePoint(rate)).toBeGreaterThan(14)
    expect(meanRate(rateOf({ observedOpenings: 2, observedDays: 28 })!)).toBeCloseTo((2.5 / 28) * 365.25, 9)
  })

  it('the 99 % point of silence is where one working contact in a hundred is still silent', () => {
    const rate = rateOf({ openingsPerYear: 52, observedOpenings: 40, observedDays: 300 })!
    expect(silenceChance(rate, silencePoint(rate))).toBeCloseTo(0.01, 12)
  })

  it('a contact never heard is silent beyond doubt after 18 openings that its guess would have brought', () => {
    // (b / (b + t))^2 = 0.01 at t = 9 b, with b = 2 / 40 years
    const unheard = { openingsPerYear: 40, observedOpenings: 0, observedDays: 0 }
    expect(isSilentBeyond(unheard, 164)).toBe(false)
    expect(isSilentBeyond(unheard, 165)).toBe(true)
    expect(isSilentBeyond({ observedOpenings: 0, observedDays: 0 }, 5000)).toBe(false)
  })

  it('a figure that cannot be is refused by its name', () => {
    expect(() => rateOf({ observedOpenings: -1, observedDays: 3 })).toThrow(/observedOpenings.*-1/)
    expect(() => rateOf({ observedOpenings: 1, observedDays: Number.NaN })).toThrow(/observedDays.*NaN/)
  })
})

describe('Gauss-Legendre points', () => {
  it('are those of the closed forms for two and three points (from memory), moved to 0 to 1', () => {
    expect(gaussLegendre(1)).toEqual([{ at: expect.closeTo(0.5, 12), weight: expect.closeTo(1, 12) }])
    const [a, b] = gaussLegendre(2)
    expect([a!.at, b!.at]).toEqual([
      expect.closeTo((1 - 1 / Math.sqrt(3)) / 2, 12),
      expect.closeTo((1 + 1 / Math.sqrt(3)) / 2, 12),
    ])
    const three = gaussLegendre(3)
    expect(three.map(({ at }) => at)).toEqual(
      [-Math.sqrt(0.6), 0, Math.sqrt(0.6)].map(x => expect.closeTo((1 + x) / 2, 12)),
    )
    expect(three.map(({ weight }) => weight)).toEqual([5 / 18, 8 / 18, 5 / 18].map(w => expect.closeTo(w, 12)))
  })
  it('integrate polynomials up to degree 2n - 1 exactly', () => {
    const points = gaussLegendre(8)
    for (let degree = 0; degree <= 15; degree++)
      expect(points.reduce((sum, { at, weight }) => sum + weight * at ** degree, 0)).toBeCloseTo(1 / (degree + 1), 12)
  })
})
