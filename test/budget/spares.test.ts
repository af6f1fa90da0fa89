import jstat from 'jstat'

import { describe, expect, test } from 'vitest'
import { badChance, buyEnough, enoughChance, MODULES_IN_PRACTICE } from '../../src/budget/advice/spares.ts'

describe('buying enough', () => {
  // Johnson, Kemp & Kotz, Univariate Discrete Distributions (from memory): a uniform share makes every count as likely.
  test('with a uniform share of bad parts every count is as likely', () => {
    for (let bad = 0; bad <= 10; bad++) expect(badChance(bad, 10, { good: 1, bad: 1 })).toBeCloseTo(1 / 11, 12)
  })
  test('is the binomial distribution weighed by the beta distribution of a statistics library', () => {
    for (const [bad, bought, good, poor] of [
      [0, 12, 9, 1],
      [3, 26, 9, 1],
      [5, 30, 21.5, 4.5],
    ] as const) {
      let sum = 0
      const steps = 20_000
      for (let i = 0; i < steps; i++) {
        const share = (i + 0.5) / steps
        sum += (jstat.jStat.binomial.pdf(bad, bought, share) * jstat.jStat.beta.pdf(share, poor, good)) / steps
      }
      expect(badChance(bad, bought, { good, bad: poor })).toBeCloseTo(sum, 6)
    }
  })
  test('a share known for certain is the binomial distribution', () => {
    const certain = { good: 9e7, bad: 1e7 }
    expect(badChance(2, 20, certain)).toBeCloseTo(190 * 0.1 ** 2 * 0.9 ** 18, 6)
  })
  test('the fewest that suffice, and one fewer does not', () => {
    for (const need of [1, 3, 23, 100]) {
      const buy = buyEnough(need, MODULES_IN_PRACTICE, 0.95)
      expect(enoughChance(need, buy, MODULES_IN_PRACTICE)).toBeGreaterThanOrEqual(0.95)
      expect(enoughChance(need, buy - 1, MODULES_IN_PRACTICE)).toBeLessThan(0.95)
    }
  })
  test('more good ones seen never mean buying more, more confidence never fewer', () => {
    for (let seen = 0; seen < 60; seen += 10) {
      const some = { good: 9 + seen, bad: 1 }
      expect(buyEnough(23, { ...some, good: some.good + 10 }, 0.95)).toBeLessThanOrEqual(buyEnough(23, some, 0.95))
      expect(buyEnough(23, some, 0.99)).toBeGreaterThanOrEqual(buyEnough(23, some, 0.95))
    }
  })
  test('says what is wrong with its arguments', () => {
    expect(() => buyEnough(-1, MODULES_IN_PRACTICE, 0.9)).toThrow(/need.*-1/)
    expect(() => buyEnough(3, MODULES_IN_PRACTICE, 1)).toThrow(/confidence.*1/)
    expect(() => buyEnough(3, { good: 1e-9, bad: 100 }, 0.9)).toThrow(/too many/)
    expect(buyEnough(0, MODULES_IN_PRACTICE, 0.9)).toBe(0)
  })
})
