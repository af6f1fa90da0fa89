import jstat from 'jstat'
import { describe, expect, it } from 'vitest'
import { fitLifetimes, type LifetimeFit } from '../../src/budget/lives/fit-lifetimes.ts'
import type { Lifetime } from '../../src/budget/lives/lifetime.ts'
import { weibullQuantile } from '../../src/budget/lives/special-functions.ts'
import { seeded } from './random.ts'

const { jStat } = jstat
const failed = (...at: number[]): Lifetime[] => at.map(failedAt => ({ failedAt }))
const running = (...at: number[]): Lifetime[] => at.map(runningAt => ({ runningAt }))
function fitted(lives: readonly Lifetime[], level?: number): LifetimeFit {
  const result = fitLifetimes(lives, level)
  if ('reason' in result) throw new Error(result.reason)
  return result
}

// NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 (page apr413)
const NIST_FAILED = failed(54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
const NIST = [...NIST_FAILED, ...running(...Array<number>(10).fill(500))]

describe('published examples', () => {
  it('NIST e-Handbook 8.4.1: scale 606.5280, shape 1.7208, log-likelihood -75.135, AIC 154.27, B10 164.02', () => {
    const { scale, shape, logLikelihood, aic, b10 } = fitted(NIST)
    expect(Math.abs(scale - 606.528)).toBeLessThan(0.001)
    expect(shape).toBeCloseTo(1.7208, 4)
    expect(logLikelihood).toBeCloseTo(-75.135, 3)
    expect(aic).toBeCloseTo(154.27, 2)
    expect(b10).toBeCloseTo(164.02, 2)
  })

  it('the units still running are not dropped: 308.53 and 3.0597 would be the wrong answer', () => {
    const wrong = fitted(NIST_FAILED)
    // Not in the handbook: of a whole sample the shape k solves sum(t^k ln t) / sum(t^k) - 1 / k = mean(ln t), and the
    // scale is mean(t^k)^(1/k) (Cohen 1965, Technometrics 7, from memory).
    const times = NIST_FAILED.map(life => ('failedAt' in life ? life.failedAt : Number.NaN))
    const mean = (of: (t: number) => number): number => times.reduce((sum, t) => sum + of(t), 0) / times.length
    let [low, high] = [0.1, 20]
    while (high - low > 1e-9) {
      const k = (low + high) / 2
      if (mean(t => t ** k * Math.log(t)) / mean(t => t ** k) - 1 / k < mean(Math.log)) low = k
      else high = k
    }
    expect([low, mean(t => t ** low) ** (1 / low)]).toEqual([expect.closeTo(3.0597, 4), expect.closeTo(308.53, 2)])
    expect(wrong.shape).toBeCloseTo(low, 5)
    expect(wrong.scale).toBeCloseTo(mean(t => t ** low) ** (1 / low), 3)
    expect(fitted(NIST).scale).toBeGreaterThan(1.9 * wrong.scale)
  })

  // R. B. Abernethy, The New Weibull Handbook, as another text quotes it; the edition (5th, 2006) is from memory.
  it('The New Weibull Handbook C.5: shape 2.257, scale 4900.1', () => {
    const { shape, scale } = fitted([...failed(1500, 2250, 4000, 4300, 7000), ...running(1750, 5000)])
    expect(shape).toBeCloseTo(2.257, 3)
    expect(scale).toBeCloseTo(4900.1, 1)
  })

  it('B10 of scale 6000 h and shape 2.5 is 2,439 h', () => {
    // No published value: scale (-ln 0.9)^(1 / shape), worked by hand.
    expect(Math.round(6000 * (-Math.log(0.9)) ** (1 / 2.5))).toBe(2439)
    expect(weibullQuantile(0.1, 2.5, 6000)).toBeCloseTo(6000 * (-Math.log(0.9)) ** (1 / 2.5), 6)
  })
})

describe('against a general statistics library', () => {
  it('the likelihood is the product of its densities and survivals, and no neighbour is higher', () => {
    const { shape, scale, logLikelihood } = fitted(NIST)
    const of = (k: number, s: number): number =>
      NIST.reduce(
        (sum, life) =>
          sum +
          Math.log('failedAt' in life ? jStat.weibull.pdf(life.failedAt, s, k) : 1 - jStat.weibull.cdf(500, s, k)),
        0,
      )
    expect(logLikelihood).toBeCloseTo(of(shape, scale), 9)
    for (const [a, b] of [
      [1.001, 1],
      [0.999, 1],
      [1, 1.001],
      [1, 0.999],
      [1.001, 0.999],
      [0.999, 1.001],
    ] as const) {
      expect(of(shape * a, scale * b)).toBeLessThan(logLikelihood)
    }
  })

  it('at the ends of a profile interval the likelihood is lower by half of chi-squared', () => {
    const { profileIntervals, logLikelihood } = fitted(NIST)
    const bestAt = (k: number): number => {
      // for exact and running lives the best scale of a shape is known in closed form
      const sum = NIST.reduce((s, life) => s + ('failedAt' in life ? life.failedAt : 500) ** k, 0)
      const scale = (sum / 10) ** (1 / k)
      return NIST.reduce(
        (s, life) =>
          s +
          Math.log(
            'failedAt' in life ? jStat.weibull.pdf(life.failedAt, scale, k) : 1 - jStat.weibull.cdf(500, scale, k),
          ),
        0,
      )
    }
    for (const end of profileIntervals.shape) expect(logLikelihood - bestAt(end)).toBeCloseTo(3.841459 / 2, 5)
  })
})

describe('lives known between two tries', () => {
  it('narrow intervals give the exact answer', () => {
    const narrow = NIST.map(life =>
      'failedAt' in life ? { failedBetween: [life.failedAt - 1e-4, life.failedAt + 1e-4] as const } : life,
    )
    const a = fitted(narrow)
    const b = fitted(NIST)
    expect(a.shape).toBeCloseTo(b.shape, 4)
    expect(a.scale).toBeCloseTo(b.scale, 2)
    expect(a.logLikelihood).toBeCloseTo(b.logLikelihood + 10 * Math.log(2e-4), 5)
  })

  it('the true values lie within their 90 % intervals about nine times in ten', () => {
    const random = seeded(11)
    let shapes = 0
    let scales = 0
    const rounds = 200
    for (let i = 0; i < rounds; i++) {
      const lives = Array.from({ length: 25 }, (): Lifetime => {
        const n = Math.floor(weibullQuantile(random(), 3, 22))
        return n > 26 ? { runningAt: 26 } : { failedBetween: [n, n + 1] }
      })
      const { profileIntervals } = fitted(lives, 0.9)
      if (profileIntervals.shape[0] < 3 && profileIntervals.shape[1] > 3) shapes++
      if (profileIntervals.scale[0] < 22 && profileIntervals.scale[1] > 22) scales++
    }
    for (const share of [shapes / rounds, scales / rounds]) {
      expect(share).toBeGreaterThan(0.85)
      expect(share).toBeLessThan(0.95)
    }
  })
})

describe('data that fix nothing are answered with a reason', () => {
  const cases: [string, Lifetime[], RegExp][] = [
    ['no life at all', [], /no cell has failed/],
    ['only running cells', running(3, 9, 20), /no cell has failed/],
    ['one failure alone', failed(20), /every life agrees with failing at 20/],
    ['one failure that outlasts all that run', [...failed(20), ...running(5, 15)], /every life agrees/],
    ['equal failures', failed(20, 20, 20), /equal/],
    ['equal failures and younger running cells', [...failed(20, 20), ...running(3, 20)], /equal/],
    ['intervals with a point in common', [{ failedBetween: [18, 19] }, { failedBetween: [17, 19] }], /equal/],
    [
      'failures known from below only',
      [{ failedBetween: [0, 5] }, { failedBetween: [0, 5] }, { runningAt: 10 }],
      /shape/,
    ],
    ['failures equal to five digits', failed(1, 1.00001), /nearly equal/],
  ]
  for (const [name, lives, reason] of cases) {
    it(name, () => {
      const result = fitLifetimes(lives)
      expect('reason' in result ? result.reason : result).toMatch(reason)
    })
  }

  it('equal failures with older running cells do have a fit', () => {
    const { shape, scale } = fitted([...failed(54, 54), ...running(500, 500)])
    expect(Number.isFinite(shape) && Number.isFinite(scale)).toBe(true)
  })

  it('one failure and one that ran longer fix a shape, by hand', () => {
    // d ln L / d shape = 0 is ln x = 1 + 1 / x with x = (20 / 10)^shape: x = 3.5911; scale^shape = 10^shape + 20^shape.
    const { shape, scale } = fitted([...failed(10), ...running(20)])
    expect(shape).toBeCloseTo(Math.log(3.59112) / Math.LN2, 4)
    expect(scale).toBeCloseTo(10 * (1 + 3.59112) ** (1 / shape), 3)
  })

  it('a life that cannot be is refused with what was found', () => {
    expect(() => fitLifetimes([{ failedAt: 0 }])).toThrow(/failedAt":0/)
    expect(() => fitLifetimes([{ failedBetween: [5, 5] }])).toThrow(/failedBetween":\[5,5\]/)
    expect(() => fitLifetimes([{ runningAt: -1 }])).toThrow(/-1/)
    expect(() => fitLifetimes([{ failedAt: 3 }, { failedAt: Number.NaN }])).toThrow(/lifetimes\[1\].*"failedAt":"NaN"/)
    for (const wrong of [null, 5, {}, { failedBetween: 7 }])
      expect(() => fitLifetimes([{ failedAt: 3 }, wrong as never])).toThrow(/lifetimes\[1\] must be a life/)
    expect(() => fitLifetimes(5 as never)).toThrow(/lifetimes must be a list, got 5/)
    for (const level of [1, 0, -0.9, Number.NaN])
      expect(() => fitLifetimes(NIST, level)).toThrow(new RegExp(`level must be .*${level}`))
  })
})

it('the unit of the lives changes nothing but the unit of the answer', () => {
  const a = fitted(NIST)
  const b = fitted(
    NIST.map(life => ('failedAt' in life ? { failedAt: life.failedAt * 3600 } : { runningAt: 500 * 3600 })),
  )
  expect(b.shape).toBeCloseTo(a.shape, 7)
  expect(b.scale / a.scale).toBeCloseTo(3600, 4)
  expect(b.logLikelihood).toBeCloseTo(a.logLikelihood - 10 * Math.log(3600), 6)
})
