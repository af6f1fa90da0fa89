import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { agesOf } from '../../src/budget/lives/ages.ts'
import { type ForecastInput, forecast, lifeLeft } from '../../src/budget/lives/forecast.ts'
import { learn, newCell } from '../../src/budget/lives/learn.ts'
import { COUNTED_FROM_NEW, type Lifetime } from '../../src/budget/lives/lifetime.ts'
import { priorOf } from '../../src/budget/lives/prior.ts'
import { seeded } from './random.ts'

const NOW = Date.parse('2026-11-25T09:00:00.000Z')
const DAY = 86_400_000
const BASE: ForecastInput = {
  modelMedian: 20,
  countKnown: true,
  sends: 0,
  history: [],
  observedOpenings: 0,
  observedDays: 0,
  replaceBelow: 0.9,
  now: NOW,
}
const dead = (n: number): Lifetime => ({ failedBetween: [n, n + 1] })

// The 20 are common practice, the prior's widths assumptions; posterior.test.ts has the figures a second way.
describe('what the prior alone says', () => {
  it('where no count is known the range is more than twice as wide, around the same middle', () => {
    const known = forecast(BASE).left
    const unknown = forecast({ ...BASE, countKnown: false }).left
    expect(unknown.p50 / known.p50).toBeGreaterThan(0.9)
    expect(unknown.p95 / unknown.p05).toBeGreaterThan(2 * (known.p95 / known.p05))
  })

  it('it rests on practice until a cell of the house has died', () => {
    expect(forecast({ ...BASE, sends: 4, history: [{ runningAt: 12 }] }).restsOn).toEqual({
      source: 'practice',
      cells: 2,
      deaths: 0,
    })
    expect(forecast({ ...BASE, history: [dead(12)] }).restsOn).toEqual({ source: 'house', cells: 1, deaths: 1 })
  })

  it('where practice knows no count it says that it rests on assumptions', () => {
    const restsOn = { source: 'practice', assumed: true, cells: 0, deaths: 0 }
    expect(forecast({ ...BASE, countKnown: false }).restsOn).toEqual(restsOn)
  })
})

describe('properties', () => {
  const lives = fc.array(
    fc.oneof(
      fc.integer({ min: 0, max: 45 }).map(dead),
      fc.integer({ min: 0, max: 45 }).map((n): Lifetime => ({ runningAt: n })),
    ),
    { maxLength: 8 },
  )

  it('a cell seen running longer never lowers its own median total', () => {
    fc.assert(
      fc.property(lives, fc.integer({ min: 0, max: 50 }), fc.integer({ min: 1, max: 8 }), (history, sends, more) => {
        const a = sends + forecast({ ...BASE, history, sends }).left.p50
        const b = sends + more + forecast({ ...BASE, history, sends: sends + more }).left.p50
        expect(b).toBeGreaterThan(a * 0.9995)
      }),
      { numRuns: 60, seed: 5 },
    )
  })

  it('deaths between n and n + 1 pull the median toward there, from either side', () => {
    for (const n of [8, 12, 30, 40]) {
      let off = Math.abs(forecast(BASE).left.p50 - n - 0.5)
      for (const deaths of [1, 3, 10, 30]) {
        const history = Array.from({ length: deaths }, () => dead(n))
        const now = Math.abs(forecast({ ...BASE, history }).left.p50 - n - 0.5)
        expect(now < off || now < 0.02 * n).toBe(true)
        off = now
      }
      expect(off).toBeLessThan(0.08 * n)
    }
  })

  it('the figures are in order, and finite, whatever the history', () => {
    fc.assert(
      fc.property(
        lives,
        fc.integer({ min: 0, max: 200 }),
        fc.double({ min: 0.3, max: 0.99, noNaN: true }),
        (history, sends, replaceBelow) => {
          const f = forecast({ ...BASE, history, sends, replaceBelow, openingsPerYear: 80 })
          expect(f.left.p05).toBeGreaterThanOrEqual(0)
          expect(f.left.p05).toBeLessThan(f.left.p50)
          expect(f.left.p50).toBeLessThan(f.left.p95)
          expect(f.left.p95).toBeLessThan(Infinity)
          expect(f.next).toBeGreaterThan(0)
          expect(f.next).toBeLessThanOrEqual(1)
          expect(f.changeBy).toBeGreaterThanOrEqual(NOW)
          if (history.some(life => !('runningAt' in life))) expect(f.untilLow === 0).toBe(f.next < replaceBelow)
        },
      ),
      { numRuns: 60, seed: 6 },
    )
  })
})

describe('long-lived kinds', () => {
  /** Where survival crosses the level, by halving alone. */
  const crossing = (surviving: (sends: number) => number, level: number): number => {
    let [low, high] = [0, 1e5]
    while (high - low > 1e-6) {
      const middle = (low + high) / 2
      if (surviving(middle) > level) low = middle
      else high = middle
    }
    return low
  }
  it.each([
    ['of unknown age', { unknownBefore: 'unknown' as const }],
    ['with a guess of what went before', { unknownBefore: 100, sends: 40 }],
    ['new', {}],
    ['old, of thousands of sends', { modelMedian: 6000, sends: 4000 }],
  ])('a cell %s: every figure is where its survival says, however long the table', (_, part) => {
    const input = { ...BASE, countKnown: false, modelMedian: 470, ...part }
    const { left, next, countOn } = forecast(input)
    const cell = lifeLeft(input)
    for (const [sends, level] of [
      [left.p05, 0.95],
      [left.p50, 0.5],
      [left.p95, 0.05],
      [countOn, 0.9],
    ] as const)
      expect(Math.abs(sends / crossing(more => cell.surviving(more), level) - 1)).toBeLessThan(0.001)
    expect(next).toBe(cell.surviving(1))
  })

  it.each([
    [20, true, 0, 'unknown'],
    [20, true, 12, 'unknown'],
    [20, true, 5, 30],
    [63, false, 40, 20],
    [470, false, 0, 'unknown'],
    [470, false, 300, 100],
  ] as const)(
    'model %d, count known %s, %d sends after %s: eight ages give what eight times as many do, to 0.5 %%',
    (modelMedian, countKnown, sends, before) => {
      const quantiles = (points?: number): number[] => {
        const ages = agesOf(before, modelMedian, points)
        const deaths = [0.6, 1.1].map(share => ({
          failedBetween: [share * modelMedian, share * modelMedian + 1] as const,
        }))
        const lives = deaths.map(life => ({ cells: [{ life, modelMedian, ages: COUNTED_FROM_NEW }], times: 1 }))
        const present = { modelMedian, sends, ages }
        const probes = [newCell(modelMedian), { opening: undefined, before: [], cell: present }]
        const cell = learn(lives, priorOf(countKnown), probes).remaining(undefined, [], present)
        return [0.05, 0.5, 0.95].map(p => cell.quantile(p))
      }
      const many = quantiles(64)
      for (const [i, value] of quantiles().entries()) expect(Math.abs(value / many[i]! - 1)).toBeLessThan(0.005)
    },
  )
})

/** Lives of a house that knows how its cells end. */
const DIED = [11, 14, 15, 15, 17, 19, 22].map(dead)

/** Chance of so many openings in so many days, by simulation: a rate from its gamma distribution, openings from it. */
function cameBy(
  { openingsPerYear = 1, observedOpenings, observedDays }: ForecastInput,
  openings: number,
  days: number,
) {
  const random = seeded(3)
  let came = 0
  for (let i = 0; i < 40_000; i++) {
    // a gamma number of whole shape is a sum of exponential ones
    let sum = 0
    for (let j = 0; j < 2 + observedOpenings; j++) sum -= Math.log(1 - random())
    const perDay = sum / (2 / openingsPerYear + observedDays / 365.25) / 365.25
    let count = 0
    const wait = () => -Math.log(1 - random()) / perDay
    for (let t = wait(); t < days; t += wait()) count++
    if (count >= openings) came++
  }
  return came / 40_000
}

describe('two sends an opening', () => {
  it('leaves half as many openings, and says when to change by the sends that they cost', () => {
    const input = { ...BASE, history: DIED, openingsPerYear: 20 }
    const one = forecast(input)
    const two = forecast({ ...input, sendsPerOpening: 2 })
    for (const p of ['p05', 'p50', 'p95'] as const) expect(two.left[p]).toBeCloseTo(one.left[p] / 2, 6)
    expect(two.countOn).toBeCloseTo(one.countOn / 2, 6)
    const days = (two.changeBy! - NOW) / DAY
    expect(cameBy(input, two.untilLow, days)).toBeCloseTo(0.5, 2)
    expect((one.changeBy! - NOW) / DAY).toBeGreaterThan(1.5 * days)
  })

  it('untilLow counts openings: the one after them is read under the limit, the one before was not', () => {
    const input = { ...BASE, history: DIED, sendsPerOpening: 2 }
    const { untilLow } = forecast(input)
    expect(untilLow).toBeGreaterThan(2)
    expect(forecast({ ...input, sends: 2 * untilLow }).next).toBeLessThan(0.9)
    expect(forecast({ ...input, sends: 2 * (untilLow - 1) }).next).toBeGreaterThanOrEqual(0.9)
  })
})

describe('when to act', () => {
  it('after untilLow further sends, and not one sooner, the next reads under replaceBelow', () => {
    for (const sends of [0, 7, 11]) {
      const input = { ...BASE, history: DIED }
      const { untilLow, left } = forecast({ ...input, sends })
      expect(untilLow).toBeGreaterThan(0)
      expect(untilLow).toBeLessThan(left.p95)
      expect(forecast({ ...input, sends: sends + untilLow }).next).toBeLessThan(0.9)
      expect(forecast({ ...input, sends: sends + untilLow - 1 }).next).toBeGreaterThanOrEqual(0.9)
    }
  })

  it('while the house knows of no death, untilLow and changeBy end with what the model expects of a cell', () => {
    const { untilLow, changeBy } = forecast({ ...BASE, sends: 7, observedOpenings: 7, observedDays: 70 })
    expect(untilLow).toBe(13)
    // 13 openings at about (7 + 0.5) in 70 days
    expect(Math.abs((changeBy! - NOW) / DAY / ((13 * 70) / 7.5) - 1)).toBeLessThan(0.06)
    expect(forecast({ ...BASE, sends: 20, observedOpenings: 20, observedDays: 200 }).changeBy).toBe(NOW)
  })

  it('a fresh house is not told to change or to test anything in its first week', () => {
    for (const days of [0, 1, 3, 7]) {
      const opened = { observedOpenings: days, observedDays: days, sends: days }
      for (const unknownBefore of [undefined, 'unknown'] as const) {
        const fresh = forecast({ ...BASE, ...opened, quietDays: 1, ...(unknownBefore ? { unknownBefore } : {}) })
        expect(fresh.alive).toBeGreaterThan(0.9)
        if (fresh.changeBy !== undefined) expect((fresh.changeBy - NOW) / DAY).toBeGreaterThan(7)
      }
    }
  })

  it('for a long-lived kind untilLow stops where the cell is most likely spent', () => {
    const input = { ...BASE, modelMedian: 470, history: [dead(500)] }
    const { untilLow, neverLow, left } = forecast(input)
    expect(untilLow).toBe(Math.ceil(left.p95))
    expect(neverLow).toBe(true)
    expect(forecast({ ...BASE, history: DIED })).not.toHaveProperty('neverLow')
  })

  it('changeBy is the day by which untilLow openings have come, as likely as not', () => {
    const part = { sends: 3, openingsPerYear: 60, observedOpenings: 31, observedDays: 200 }
    const input = { ...BASE, history: DIED, ...part }
    const { changeBy, untilLow } = forecast(input)
    expect(cameBy(input, untilLow, (changeBy! - NOW) / DAY)).toBeCloseTo(0.5, 2)
  })

  it('silence moves neither changeBy nor the chance of a cell that runs, only whether it runs', () => {
    const input = { ...BASE, history: DIED, sends: 9, observedOpenings: 31, observedDays: 200 }
    const heard = forecast(input)
    const silent = forecast({ ...input, quietDays: 41 })
    expect(silent.changeBy).toBe(heard.changeBy)
    expect(silent.untilLow).toBe(heard.untilLow)
    expect(silent.next / silent.alive).toBeCloseTo(heard.next, 9)
    expect(heard.alive).toBe(1)
    expect(silent.alive).toBeLessThan(0.5)
    // q / (q + (1 - q)(1 - p)) with a gamma rate: 31.5 openings in 200 days
    const q = (200 / 241) ** 31.5
    expect(silent.alive).toBeCloseTo(q / (q + (1 - q) * (1 - heard.next)), 9)
    expect(silent.left).toMatchObject({ p05: 0, p50: 0 })
  })

  it.each([
    { sends: 2_000_000_000 },
    { modelMedian: 1e9 },
    { modelMedian: 1e9, sends: 1.7e9, unknownBefore: 'unknown' as const },
  ])('a count that cannot be takes no time either: %o', part => {
    const start = process.cpuUsage()
    const { left, untilLow } = forecast({ ...BASE, countKnown: false, ...part })
    expect(Number.isFinite(left.p95) && Number.isFinite(untilLow)).toBe(true)
    expect(process.cpuUsage(start).user / 1e6).toBeLessThan(5)
  })

  it('a cell that is low already is due now, and with no rate there is no date', () => {
    expect(forecast({ ...BASE, history: DIED, sends: 20, openingsPerYear: 50 }).changeBy).toBe(NOW)
    expect(forecast({ ...BASE, sends: 3 })).not.toHaveProperty('changeBy')
  })

  it("a contact that is hardly ever opened is due within its cell's shelf life of ten years", () => {
    const { changeBy } = forecast({ ...BASE, openingsPerYear: 0.1, observedDays: 900 })
    expect((changeBy! - NOW) / DAY).toBeCloseTo(3653, 0)
  })
})

describe('a cell whose first sends nobody counted', () => {
  it('has less left and reads it less surely than one counted from new', () => {
    const counted = forecast({ ...BASE, sends: 5 })
    for (const unknownBefore of [4, 'unknown'] as const) {
      const f = forecast({ ...BASE, sends: 5, unknownBefore })
      expect(f.left.p50).toBeLessThan(counted.left.p50)
      expect(f.left.p95 / f.left.p05).toBeGreaterThan(counted.left.p95 / counted.left.p05)
      expect(f.next).toBeLessThan(counted.next)
    }
  })

  it('teaches nothing by having been alive when the count began', () => {
    const fresh = lifeLeft(BASE)
    const met = lifeLeft({ ...BASE, unknownBefore: 'unknown' })
    // its total life is longer than a new cell's only because the short-lived are gone already
    expect(met.quantile(0.5)).toBeLessThan(fresh.quantile(0.5))
    expect(met.quantile(0.5)).toBeGreaterThan(0.3 * fresh.quantile(0.5))
  })

  it('a cell far beyond every model still has a forecast, counted from new or not', () => {
    for (const unknownBefore of [undefined, 30, 'unknown'] as const) {
      const { left, next } = forecast({ ...BASE, sends: 500, ...(unknownBefore ? { unknownBefore } : {}) })
      expect(left.p50).toBeGreaterThan(1)
      expect(left.p95).toBeLessThan(5000)
      expect(next).toBeGreaterThan(0.5)
    }
  })

  it('a guess far beyond what any cell gives is mostly disbelieved', () => {
    const { left } = forecast({ ...BASE, sends: 1, unknownBefore: 200 })
    expect(left.p50).toBeGreaterThan(3)
  })
})

it('figures out of range are refused by name', () => {
  for (const [part, message] of [
    [{ modelMedian: 0 }, /modelMedian.*0/],
    [{ sends: -1 }, /sends.*-1/],
    [{ replaceBelow: 1 }, /replaceBelow.*1/],
    [{ unknownBefore: Number.NaN }, /unknownBefore.*NaN/],
    [{ history: [{ failedBetween: [5, 4] as const }] }, /failedBetween":\[5,4\]/],
    [{ observedDays: -2 }, /observedDays.*-2/],
    [{ sendsPerOpening: 1.5 }, /sendsPerOpening.*1\.5/],
    [{ now: Number.NaN }, /now.*NaN/],
  ] as const) {
    expect(() => forecast({ ...BASE, ...part })).toThrow(message)
  }
})
