import jstat from 'jstat'
import { describe, expect, it } from 'vitest'
import { risingChance, slowJoin } from '../../src/budget/advice/slow-join.ts'
import { gauss, seeded } from './random.ts'

const { jStat } = jstat
const words = (...delays: number[]) => delays.map((delayMilliseconds, i) => ({ at: i * 1000, delayMilliseconds }))

describe('the trend test', () => {
  it('a strictly rising row of ten has S = 45 and the chance of z = 44 / sqrt(125)', () => {
    // variance n (n - 1)(2 n + 5) / 18 = 125 for n = 10 (Kendall 1975, Rank Correlation Methods, from memory)
    const chance = risingChance([1, 2, 3, 4, 5, 6, 7, 8, 9, 10])
    expect(chance).toBeCloseTo(1 - jStat.normal.cdf(44 / Math.sqrt(125), 0, 1), 8)
    // the same from the asymptotic series of the normal tail (Abramowitz & Stegun 26.2.12, from memory)
    const z = 44 / Math.sqrt(125)
    const tail = (Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI) / z) * (1 - z ** -2 + 3 * z ** -4 - 15 * z ** -6)
    expect(chance / tail).toBeCloseTo(1, 1)
  })

  it('equal values show nothing', () => {
    expect(risingChance([4, 4, 4, 4])).toBe(1)
  })
})

describe('a slow first word', () => {
  it('a join that creeps from 3.6 to 6 s is told', () => {
    expect(slowJoin(words(3600, 3700, 3650, 3800, 3900, 4100, 4500, 4800, 5400, 6000))?.slow).toBe(true)
  })

  it('one bad join is not', () => {
    expect(slowJoin(words(3600, 3700, 3650, 3800, 3600, 3700, 3650, 3700, 3600, 9000))?.slow).toBe(false)
  })

  it('a steady rise too small to matter is not', () => {
    expect(slowJoin(words(3600, 3610, 3620, 3630, 3640, 3650, 3660, 3670, 3680, 3690))?.slow).toBe(false)
  })

  it('fewer than eight words say nothing', () => {
    expect(slowJoin(words(1, 2, 3, 4, 5, 6, 7))).toBeUndefined()
  })

  it('the order is that of time, not of the list', () => {
    const rising = words(3600, 3700, 3650, 3800, 3900, 4100, 4500, 4800, 5400, 6000)
    expect(slowJoin([...rising].reverse())).toEqual(slowJoin(rising))
  })

  it('contacts that only scatter by a fifth are told less than once in a hundred', () => {
    const random = seeded(12)
    let told = 0
    for (let i = 0; i < 2000; i++) {
      const delays = Array.from({ length: 12 }, () => 4000 * Math.exp(0.2 * gauss(random)))
      if (slowJoin(words(...delays))!.slow) told++
    }
    expect(told / 2000).toBeLessThan(0.01)
  })

  it('a delay that cannot be is refused', () => {
    expect(() => slowJoin(words(-1))).toThrow(/delayMilliseconds.*-1/)
  })
})
