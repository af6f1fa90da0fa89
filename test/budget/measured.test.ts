import { describe, expect, test } from 'vitest'
import type { CellHistory } from '../../src/budget/lives/cell-history.ts'
import { gauss, seeded } from '../../src/budget/lives/draw.ts'
import { cellLeft, learnHouse } from '../../src/budget/lives/learn-house.ts'
import { leftByMark } from '../../src/budget/lives/left.ts'
import { endOf, type Volts, type VoltsLine } from '../../src/budget/lives/measured.ts'
import { addVolts, type Line } from '../../src/ledger/line.ts'

const random = seeded(20_261_130)
const NOTHING: VoltsLine = { n: 0, j: 0, jj: 0, v: 0, vj: 0, vv: 0 }

/** Loaded volts of a cell that falls from 2.5 V to 2.3 V in so many sends, as a module with an offset sees them. */
function lineOf(life: number, sends: number, offset: number, noise = 15): VoltsLine {
  let line: Line | undefined
  for (let send = 1; send <= sends; send++) {
    line = addVolts(line, send, 2500 + offset - (200 * send) / life + noise * gauss(random))
  }
  return line ?? NOTHING
}

const cell = (sends: number, volts?: Volts): CellHistory => ({
  mark: 'W01',
  kind: 'coin',
  modelMedian: 20,
  countKnown: true,
  sends,
  past: [],
  replaceBelow: 0.9,
  observedOpenings: 0,
  observedDays: 0,
  ...(volts ? { volts } : {}),
})
const leftOf = (sends: number, volts?: Volts) => leftByMark([cell(sends, volts)], { now: 0 }).W01!
const model = { newMillivolts: 2500, resetMillivolts: 2300, ended: [] }

/** One cell that still runs after so many sends, 10 mV a send within 25 % (one standard deviation), and its module. */
function drawn(sends: number): { life: number; offset: number } {
  for (;;) {
    const slope = 10 * (1 + 0.25 * gauss(random))
    const life = 200 / slope
    if (slope > 1 && life > sends) return { life, offset: 50 * gauss(random) }
  }
}

describe('volts under load', () => {
  test('after ten sends the range is 0.6 of that without or less, and holds what comes (10 mV a send ±25 %, noise 15 mV, offset 50 mV)', () => {
    const sends = 10
    const plain = leftOf(sends)
    const cells = 400
    let width = 0
    let held = 0
    for (let i = 0; i < cells; i++) {
      const { life, offset } = drawn(sends)
      const { p05, p95 } = leftOf(sends, { ...model, line: lineOf(life, sends, offset) })
      width += (p95 - p05) / cells
      if (life - sends >= p05 && life - sends <= p95) held++
    }
    expect(width / (plain.p95 - plain.p05)).toBeLessThanOrEqual(0.6)
    expect(held / cells).toBeGreaterThanOrEqual(0.85)
  })

  test('the more sends, the surer', () => {
    const [life, offset] = [20, 30]
    const widths = [2, 6, 12].map(sends => {
      const { p05, p95 } = leftOf(sends, { ...model, line: lineOf(life, sends, offset, 0) })
      return (p95 - p05) / (leftOf(sends).p95 - leftOf(sends).p05)
    })
    expect(widths[1]).toBeLessThan(widths[0]!)
    expect(widths[2]).toBeLessThan(widths[1]!)
  })

  test('one reading, or a model whose volts hardly fall, changes nothing', () => {
    const plain = leftOf(5)
    expect(leftOf(5, { ...model, line: lineOf(20, 1, 0) })).toEqual(plain)
    expect(leftOf(5, { ...model, newMillivolts: 2320, line: lineOf(20, 5, 0) })).toEqual(plain)
  })

  test('end volts: the model’s with 50 mV, and each dead cell’s with its own error, weighed by 1 / variance', () => {
    expect(endOf({ ...model, line: NOTHING })).toEqual({ mean: 2300, variance: expect.closeTo(2500, 6) })
    // Readings on a line without noise at sends 1 to 10 end at send 10.5; by hand, with the noise of the prior shrunk.
    const line = lineOf(20, 10, 80, 0)
    const noise = (4 * 15 ** 2) / (4 + 8)
    const variance = noise * (1 / 10 + (10.5 - 5.5) ** 2 / 82.5) + 20 ** 2
    const ended = 2580 - 10 * 10.5
    const { mean } = endOf({ ...model, line: NOTHING, ended: [{ line, sends: 10 }] })
    expect(mean).toBeCloseTo((2300 / 2500 + ended / variance) / (1 / 2500 + 1 / variance), 6)
  })

  /** Against a general method: the posterior of (life, end, fall) by plain sums over a fine grid, nothing integrated in closed form. */
  test('the weighing agrees with a grid over life, end volts and fall', () => {
    const sends = 8
    const line = lineOf(17, sends, 20)
    const { p05, p50, p95 } = leftOf(sends, { ...model, line })
    const noise = noiseOf(line)
    const prior = leftByMark([cell(sends)], { now: 0 }).W01!
    expect(prior.p50).toBeGreaterThan(0)
    const weights: number[] = []
    const survive = survivalOf(sends)
    for (let more = 0; more < 120; more++) {
      const life = sends + more + 0.5
      let like = 0
      for (let end = 2100; end <= 2500; end += 5) {
        for (let fall = 20; fall <= 380; fall += 5) {
          const x = line.n - line.j / life
          const xx = line.n - (2 * line.j) / life + line.jj / life ** 2
          const xv = line.v - line.vj / life
          const rest =
            line.vv - 2 * end * line.v - 2 * fall * xv + line.n * end ** 2 + 2 * end * fall * x + fall ** 2 * xx
          like += Math.exp(-rest / noise / 2 - (end - 2300) ** 2 / 5000 - (fall - 200) ** 2 / 3200)
        }
      }
      weights.push((survive(more) - survive(more + 1)) * like)
    }
    const all = weights.reduce((sum, weight) => sum + weight, 0)
    const quantile = (p: number): number => {
      let sum = 0
      for (const [more, weight] of weights.entries()) {
        if (sum + weight / all >= p) return more + (p - sum) / (weight / all)
        sum += weight / all
      }
      return Number.NaN
    }
    for (const [p, found] of [
      [0.05, p05],
      [0.5, p50],
      [0.95, p95],
    ] as const)
      expect(Math.abs(found - quantile(p))).toBeLessThan(0.1 + 0.02 * found)
  })
})

/** Residual variance with the prior's 15 mV as worth four readings. */
function noiseOf({ n, j, jj, v, vj, vv }: VoltsLine): number {
  const slope = (vj - (v * j) / n) / (jj - (j * j) / n)
  const rest = vv - (v * v) / n - slope * (vj - (v * j) / n)
  return (4 * 15 ** 2 + rest) / (4 + n - 2)
}

function survivalOf(sends: number): (more: number) => number {
  const one = cell(sends)
  const left = cellLeft(one, learnHouse([one]).get('coin')!)
  return more => left.surviving(more)
}
