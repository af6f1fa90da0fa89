import { describe, expect, it } from 'vitest'
import type { CellHistory, PastCell } from '../../src/budget/lives/cell-history.ts'
import { type ForecastInput, forecast } from '../../src/budget/lives/forecast.ts'
import { leftByMark } from '../../src/budget/lives/left.ts'
import type { Lifetime } from '../../src/budget/lives/lifetime.ts'
import { gauss, seeded } from './random.ts'

/**
 * The figures a second way. The prior is written again from its words: median within 1.5 of the model (3 where no count
 * is known), so that half of all new cells give what the model says; shape around 3 within 2, own factors of a standard
 * deviation around 0.2 within 2, at most 1.
 */
const NOW = Date.parse('2026-11-25T09:00:00.000Z')
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
const dead = (n: number) => ({ failedBetween: [n, n + 1] as const })
const sdWithin = (factor: number): number => Math.log(factor) / 1.6448536269514722
const hazard = (sends: number, median: number, shape: number): number => Math.LN2 * (sends / median) ** shape

/** Log-likelihood of a life, by its own definition. */
function logLife(life: Lifetime, median: number, shape: number): number {
  const at = (sends: number): number => hazard(sends, median, shape)
  if ('failedAt' in life) return Math.log((shape * at(life.failedAt)) / life.failedAt) - at(life.failedAt)
  if ('failedBetween' in life) {
    const [from, to] = life.failedBetween
    return Math.log(-Math.expm1(at(from) - at(to))) - at(from)
  }
  const { runningAt, silence = 1, next = runningAt + 1 } = life
  return Math.log(Math.exp(-at(runningAt)) - (1 - silence) * Math.exp(-at(next)))
}

interface Draw {
  readonly median: number
  readonly shape: number
  readonly ownSd: number
}
/** Middle of a kind's median over the model, found by a sum over the prior apart from the code: known count, and not. */
const middleOf = (countKnown: boolean): number => (countKnown ? 1 / 0.974059 : 1 / 0.952444)
const draw = (random: () => number, model: number, countKnown: boolean): Draw => {
  const median = model * middleOf(countKnown) * Math.exp(sdWithin(countKnown ? 1.5 : 3) * gauss(random))
  const shape = 3 * Math.exp(sdWithin(2) * gauss(random))
  for (;;) {
    const ownSd = 0.2 * Math.exp(sdWithin(2) * gauss(random))
    if (ownSd <= 1) return { median, shape, ownSd }
  }
}

describe('what the prior alone says (assumptions around the 20 of common practice), against 400,000 draws from it', () => {
  /** Weighted quantiles of what is left, and the weighted share that gets one more. */
  function drawn(sends: number, countKnown: boolean) {
    const random = seeded(7)
    const left: [left: number, weight: number][] = []
    let [all, more] = [0, 0]
    for (let i = 0; i < 400_000; i++) {
      const { median, shape, ownSd } = draw(random, 20, countKnown)
      const own = median * Math.exp(ownSd * gauss(random))
      // a life given that it outlasts `sends`: the chance of that is its weight
      const weight = Math.exp(-hazard(sends, own, shape))
      const life = own * ((hazard(sends, own, shape) - Math.log(1 - random())) / Math.LN2) ** (1 / shape)
      left.push([life - sends, weight])
      all += weight
      if (life >= sends + 1) more += weight
    }
    left.sort((a, b) => a[0] - b[0])
    const quantile = (p: number): number => {
      let sum = 0
      for (const [value, weight] of left) {
        sum += weight
        if (sum >= p * all) return value
      }
      return Number.NaN
    }
    return { p05: quantile(0.05), p50: quantile(0.5), p95: quantile(0.95), next: more / all }
  }

  it.each([
    [0, true, [6.65, 20, 46.1], 0.998],
    [18, true, [0.72, 8.44, 35], 0.931],
    [0, false, [4.53, 20, 76.8], 0.997],
  ] as const)('after %d sends, count known %s: %j left, and %f for the next', (sends, countKnown, shown, next) => {
    const found = forecast({ ...BASE, sends, countKnown })
    const second = drawn(sends, countKnown)
    for (const [i, p] of (['p05', 'p50', 'p95'] as const).entries()) {
      // the sampling error of a quantile here is under 0.6 %
      expect(Math.abs(found.left[p] / second[p] - 1)).toBeLessThan(0.012)
      expect(Math.abs(found.left[p] / shown[i]! - 1)).toBeLessThan(0.05)
    }
    expect(found.next).toBeCloseTo(second.next, 3)
    expect(found.next).toBeCloseTo(next, 3)
  })
})

describe('the lattice', () => {
  const cases: [string, Partial<ForecastInput>][] = [
    ['a new cell', {}],
    ['an old one', { sends: 45 }],
    ['seven deaths', { sends: 11, history: [14, 15, 15, 17, 19, 22, 30].map(dead) }],
    ['two hundred deaths', { sends: 11, history: Array.from({ length: 200 }, (_, i) => dead(15 + (i % 11))) }],
    ['twenty-six cells far beyond the model', { history: Array<Lifetime>(26).fill({ runningAt: 45 }) }],
    ['no known count and one early death', { countKnown: false, modelMedian: 470, history: [dead(150)] }],
    ['silent ones', { sends: 9, history: [12, 15, 15, 17, 22].map(runningAt => ({ runningAt, silence: 0.1 })) }],
    [
      'silent ones whose next send is a hard one, as in the cold',
      { sends: 9, history: [9, 11, 12, 14].map(runningAt => ({ runningAt, silence: 0.05, next: 2 * runningAt })) },
    ],
    ['exact lives from a bench', { history: [{ failedAt: 17.2 }, { failedAt: 21.9 }] }],
  ]
  it.each(cases)(
    '%s: quantiles agree to 0.5 % with a plain sum over the whole prior, every opening’s own factor included',
    (_, part) => {
      const input = { ...BASE, ...part }
      const { left } = forecast(input)
      const fine = plainSum(input)
      for (const [p, found] of [
        [0.05, left.p05],
        [0.5, left.p50],
        [0.95, left.p95],
      ] as const) {
        expect(fine(found * 1.005)).toBeLessThan(1 - p)
        expect(fine(found / 1.005)).toBeGreaterThan(1 - p)
      }
    },
  )
})

type Box = readonly (readonly [low: number, high: number])[]

/** Chance of so many further sends, by brute force: eight prior standard deviations each way, then the part that counts. */
function plainSum({ modelMedian, countKnown, sends, history }: ForecastInput): (more: number) => number {
  const spread = ([low, high]: readonly [number, number], count: number): number[] =>
    Array.from({ length: count + 1 }, (_, i) => low + ((high - low) * i) / count)
  const own = spread([-4.5, 4.5], 24).map(t => ({ t, chance: Math.exp((-t * t) / 2) }))
  const all = own.reduce((sum, { chance }) => sum + chance, 0)
  const counts = new Map<string, [Lifetime, number]>()
  for (const life of history) {
    const key = JSON.stringify(life)
    counts.set(key, [life, (counts.get(key)?.[1] ?? 0) + 1])
  }
  interface Node {
    readonly at: readonly number[]
    readonly middle: number
    readonly k: number
    readonly ownSd: number
    readonly log: number
  }
  const grid = ([xs, ys, ws]: Box, [nx, ny, nw]: readonly [number, number, number]): Node[] => {
    const nodes: Node[] = []
    for (const w of spread(ws!, nw)) {
      const ownSd = 0.2 * Math.exp(sdWithin(2) * w)
      if (ownSd > 1) continue
      for (const y of spread(ys!, ny)) {
        const k = 3 * Math.exp(sdWithin(2) * y)
        for (const x of spread(xs!, nx)) {
          const middle = modelMedian * middleOf(countKnown) * Math.exp(sdWithin(countKnown ? 1.5 : 3) * x)
          let log = -(x * x + y * y + w * w) / 2
          for (const [life, n] of counts.values()) {
            let sum = 0
            for (const { t, chance } of own) sum += chance * Math.exp(logLife(life, middle * Math.exp(ownSd * t), k))
            log += n * Math.log(sum / all)
          }
          if (log > -1000) nodes.push({ at: [x, y, w], middle, k, ownSd, log })
        }
      }
    }
    return nodes
  }
  const topOf = (nodes: readonly Node[]): number =>
    nodes.reduce((most, { log }) => Math.max(most, log), Number.NEGATIVE_INFINITY)
  const wide: Box = [
    [-8, 8],
    [-5, 8],
    [-6, 4],
  ]
  const size = [32, 26, 10] as const
  const coarse = grid(wide, size)
  const counting = coarse.filter(({ log }) => log > topOf(coarse) - 40)
  const box = wide.map(([low, high], axis) => {
    const step = (high - low) / size[axis]!
    const values = counting.map(({ at }) => at[axis]!)
    return [Math.min(...values) - step, Math.max(...values) + step] as const
  })
  const nodes = grid(box, [30, 30, 14])
  const top = topOf(nodes)
  const points = nodes
    .filter(({ log }) => log > top - 16)
    .flatMap(({ middle, k, ownSd, log }) =>
      own.map(({ t, chance }) => {
        const m = middle * Math.exp(ownSd * t)
        return { m, k, weight: Math.exp(log - top) * chance }
      }),
    )
  const over = (more: number): number =>
    points.reduce((sum, { m, k, weight }) => sum + weight * Math.exp(-hazard(sends + more, m, k)), 0)
  const now = over(0)
  return more => over(more) / now
}

describe('openings with a past of their own', () => {
  const cell = (mark: string, part: Partial<CellHistory>): CellHistory => ({
    mark,
    kind: 'CR2032 cold-join',
    modelMedian: 20,
    countKnown: true,
    sends: 0,
    past: [],
    observedOpenings: 20,
    observedDays: 200,
    replaceBelow: 0.9,
    ...part,
  })
  const house: CellHistory[] = [
    cell('W01', { sends: 6, past: [9, 11, 8].map(dead) as PastCell[] }),
    cell('W02', { sends: 14, past: [dead(31), { runningAt: 20 }] }),
    cell('W03', { sends: 22, quietDays: 20 }),
    cell('W04', { sends: 3 }),
  ]

  it('figures agree with importance sampling of the prior, within its error', () => {
    const left = leftByMark(house, { now: NOW })
    // q by the closed form of a gamma rate: 20.5 openings in 200 days, 20 days of silence
    const q = (200 / 220) ** 20.5
    const random = seeded(12)
    const lives = house.map(({ past, quietDays }): { before: Lifetime[]; silence: number } => ({
      before: past.map(({ kind: _, modelMedian: __, unknownBefore: ___, ...life }) => life as Lifetime),
      silence: quietDays ? q : 1,
    }))
    const ts = Array.from({ length: 31 }, (_, i) => (i - 15) * 0.3)
    const chances = ts.map(t => Math.exp((-t * t) / 2))
    const totals = house.map(() => ({ all: 0, alive: 0, through: 0, over: [0, 0, 0] }))
    for (let i = 0; i < 20_000; i++) {
      const { median, shape, ownSd } = draw(random, 20, true)
      const medians = ts.map(t => median * Math.exp(ownSd * t))
      const each = house.map(({ sends }, o) => {
        const { before, silence } = lives[o]!
        const present: Lifetime = { runningAt: sends, silence }
        const weights = medians.map(
          (m, j) => chances[j]! * Math.exp(before.reduce((sum, life) => sum + logLife(life, m, shape), 0)),
        )
        const likely = weights.map((weight, j) => weight * Math.exp(logLife(present, medians[j]!, shape)))
        return { weights, sum: likely.reduce((a, b) => a + b, 0) }
      })
      const weight = each.reduce((product, { sum }) => product * sum, 1)
      for (const [o, { mark, sends }] of house.entries()) {
        const { weights, sum } = each[o]!
        const { silence } = lives[o]!
        const at = (more: number): number =>
          weights.reduce((s, w, j) => s + w * Math.exp(-hazard(sends + more, medians[j]!, shape)), 0) / sum
        const total = totals[o]!
        total.all += weight
        // running and silent; the rest of the likelihood is a try that failed
        total.alive += weight * silence * at(0)
        total.through += weight * silence * at(1)
        for (const [p, name] of (['p05', 'p50', 'p95'] as const).entries())
          total.over[p]! += weight * silence * at(left[mark]![name])
      }
    }
    for (const [o, { mark }] of house.entries()) {
      const { alive, next, p05 } = left[mark]!
      const { all, alive: running, through, over } = totals[o]!
      expect(alive).toBeCloseTo(running / all, 1.7)
      expect(next).toBeCloseTo(through / all, 1.7)
      if (p05 > 0) expect(over[0]! / all).toBeCloseTo(0.95, 1.7)
      else expect(running / all).toBeLessThan(0.96)
      expect(over[1]! / all).toBeCloseTo(0.5, 1.7)
      expect(over[2]! / all).toBeCloseTo(0.05, 1.7)
    }
    expect(left.W03!.alive).toBeGreaterThan(0.5)
    expect(left.W03!.alive).toBeLessThan(0.8)
    expect(left.W03!.p05).toBe(0)
  })

  it('an opening that has spent its cells early is expected to do so again, and its neighbour less so', () => {
    const left = leftByMark(house, { now: NOW })
    const alone = leftByMark([cell('W01', { sends: 6 })], { now: NOW })
    expect(left.W01!.p50).toBeLessThan(0.5 * alone.W01!.p50)
    expect(left.W02!.p50).toBeGreaterThan(1.5 * left.W01!.p50)
  })
})
