import fc from 'fast-check'
import { expect, test } from 'vitest'
import { mixed } from '../../src/budget/lives/mixed.ts'

const sure = { surviving: () => 1, quantile: () => 0 }

test('what is sure in each of several ways is never told as more than sure, however their chances are rounded', () => {
  let above = 0
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 1, max: 1_000 }), { minLength: 2, maxLength: 6 }), weights => {
      const all = weights.reduce((sum, weight) => sum + weight, 0)
      const ways = weights.map(weight => ({ chance: weight / all, left: sure }))
      if (ways.reduce((sum, { chance }) => sum + chance, 0) > 1) above++
      const { surviving, duringSilence } = mixed(ways)
      expect(surviving(1)).toBeLessThanOrEqual(1)
      expect(duringSilence).toBeLessThanOrEqual(1)
      expect(surviving(1)).toBeCloseTo(1, 12)
    }),
    { numRuns: 1_000 },
  )
  expect(above, 'sums that come out above 1 were among them').toBeGreaterThan(0)
})
