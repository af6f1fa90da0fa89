import { describe, expect, test } from 'vitest'
import { type YearPlace, yearsCells } from '../../src/budget/advice/years-cells.ts'
import { gammaDraw, poissonDraw, seeded } from '../../src/budget/lives/draw.ts'
import { drawsOf, type KindDraw } from '../../src/budget/lives/draws.ts'
import { learn, newCell } from '../../src/budget/lives/learn.ts'
import { priorOf } from '../../src/budget/lives/prior.ts'
import { rateOf } from '../../src/budget/lives/rate.ts'
import { weibullQuantile } from '../../src/budget/lives/special-functions.ts'
import { gauss as otherGauss, seeded as otherSeeded } from './random.ts'

/** A kind of which median and shape are known for certain. */
const certain = (shape: number) => (): KindDraw => ({ shape, logRatio: () => 0 })
const prior = drawsOf(learn([], priorOf(true), [newCell(20)]).posterior)
const opening = undefined
const known = (perYear: number) => ({ openings: perYear * 1e6, years: 1e6 })
const many = (count: number, place: YearPlace): YearPlace[] => Array<YearPlace>(count).fill(place)

describe('cells of a year', () => {
  // Computed, no source: 12 contacts, Weibull life of scale 300 and shape 3, 120 openings a year.
  test('the chance that at most 0 to 3 of 12 fail', () => {
    const place = { opening, rate: known(120), modelMedian: 300 * Math.LN2 ** (1 / 3), sendsPerOpening: 1 }
    const year = yearsCells([[{ chance: 1, draw: certain(3), places: many(12, place) }]])
    const wanted = [0.4639, 0.8319, 0.9656, 0.9951]
    // 120 are the middle of a Poisson number here, and the 120th may be the one that fails: a little apart.
    wanted.forEach((chance, most) => void expect(Math.abs(year.chance(most) - chance)).toBeLessThan(0.025))
    expect(year.enough(0.95)).toBe(2)
  })

  // Feller, An Introduction to Probability Theory, vol. 1, XIII (from memory): renewals in n steps are about
  // n / mean + (variance + mean - mean^2) / (2 mean^2) of them.
  test.each([
    [60, 20, 1],
    [60, 20, 2],
    [5000, 20, 1],
    [400, 63, 1],
    [5000, 0.3, 2],
    [5000, 3, 2],
  ])(
    '%d openings of a median of %d sends, %d an opening: as many renewals as renewal theory says',
    (perYear, median, sends) => {
      const shape = 3
      const scale = median / Math.LN2 ** (1 / shape)
      let [mean, square] = [0, 0]
      for (let k = 0; k < 20 * median + 20; k++) {
        // chance that a cell gives k openings and more, and fails at a later one
        const longer = Math.exp(-(((k * sends) / scale) ** shape))
        mean += longer
        square += (2 * k + 1) * longer
      }
      const variance = square - mean ** 2
      const expected = perYear / mean + (variance + mean - mean ** 2) / (2 * mean ** 2)
      const place = { opening, rate: known(perYear), modelMedian: median, sendsPerOpening: sends }
      const middle = yearsCells([[{ chance: 1, draw: certain(shape), places: many(100, place) }]]).enough(0.5)
      expect(middle / 100).toBeLessThan(perYear * 1.01)
      expect(Math.abs(middle / 100 / expected - 1)).toBeLessThan(0.01)
    },
  )

  test('what suffices with a chance of 95 % does in houses played apart from it: one kind, its rates guesses', () => {
    const guess = 60
    const rate = rateOf({ openingsPerYear: guess, observedOpenings: 0, observedDays: 0 })!
    const place = { opening, rate, modelMedian: 20, sendsPerOpening: 1 }
    const enough = yearsCells([[{ chance: 1, draw: prior, places: many(10, place) }]]).enough(0.95)
    const random = otherSeeded(77)
    const within = (factor: number): number => Math.log(factor) / 1.6448536269514722
    const houses = 20_000
    let sufficed = 0
    for (let house = 0; house < houses; house++) {
      const median = 20 * Math.exp(within(1.5) * otherGauss(random))
      const shape = 3 * Math.exp(within(2) * otherGauss(random))
      const ownSd = Math.min(1, 0.2 * Math.exp(within(2) * otherGauss(random)))
      let failed = 0
      for (let opening = 0; opening < 10; opening++) {
        // A gamma number of shape 2, and the waits of a Poisson stream of that rate.
        const perYear = (-(Math.log(1 - random()) + Math.log(1 - random())) / 2) * guess
        const own = (median * Math.exp(ownSd * otherGauss(random))) / Math.LN2 ** (1 / shape)
        let left = Math.floor(weibullQuantile(random(), shape, own))
        const wait = () => -Math.log(1 - random()) / perYear
        for (let t = wait(); t < 1; t += wait()) {
          if (left-- > 0) continue
          failed++
          left = Math.floor(weibullQuantile(random(), shape, own))
        }
      }
      if (failed <= enough) sufficed++
    }
    expect(sufficed / houses).toBeGreaterThan(0.94)
    expect(sufficed / houses).toBeLessThan(0.96)
  })

  test('an opening that is hardly used needs none, more confidence never fewer', () => {
    const rare = { opening, rate: known(0.01), modelMedian: 20, sendsPerOpening: 1 }
    expect(yearsCells([[{ chance: 1, draw: prior, places: [rare] }]]).enough(0.95)).toBe(0)
    const year = yearsCells([[{ chance: 1, draw: prior, places: many(5, { ...rare, rate: known(30) }) }]])
    expect(year.enough(0.99)).toBeGreaterThanOrEqual(year.enough(0.9))
    expect(year.chance(year.enough(0.9))).toBeGreaterThanOrEqual(0.9)
    expect(year.chance(year.enough(0.9) - 1)).toBeLessThan(0.9)
    expect(yearsCells([]).enough(0.95)).toBe(0)
    expect(() => year.enough(1)).toThrow(/confidence.*1/)
  })
})

test('the draws have the mean and the variance of their distributions', () => {
  const random = seeded(5)
  for (const [draw, mean, variance] of [
    [() => gammaDraw(random, 0.5), 0.5, 0.5],
    [() => gammaDraw(random, 2), 2, 2],
    [() => gammaDraw(random, 33.5), 33.5, 33.5],
    [() => poissonDraw(random, 0.3), 0.3, 0.3],
    [() => poissonDraw(random, 40), 40, 40],
    [() => poissonDraw(random, 900), 900, 900],
  ] as const) {
    const drawn = Array.from({ length: 40_000 }, draw)
    const found = drawn.reduce((sum, x) => sum + x, 0) / drawn.length
    const spread = drawn.reduce((sum, x) => sum + (x - found) ** 2, 0) / drawn.length
    expect(Math.abs(found / mean - 1)).toBeLessThan(0.03)
    expect(Math.abs(spread / variance - 1)).toBeLessThan(0.06)
  }
})
