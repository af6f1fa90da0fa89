import { describe, expect, it } from 'vitest'
import type { CellHistory, PastCell } from '../../src/budget/lives/cell-history.ts'
import { forecast } from '../../src/budget/lives/forecast.ts'
import { leftByMark } from '../../src/budget/lives/left.ts'
import { seeded } from './random.ts'

const NOW = Date.parse('2026-11-25T09:00:00.000Z')
const cell = (mark: string, part: Partial<CellHistory> = {}): CellHistory => ({
  mark,
  kind: 'CR2032 cold-join',
  modelMedian: 20,
  countKnown: true,
  sends: 0,
  past: [],
  observedOpenings: 0,
  observedDays: 0,
  replaceBelow: 0.9,
  ...part,
})
const dead = (n: number): PastCell => ({ failedBetween: [n, n + 1] })

describe('contacts that were never heard', () => {
  const never = (mark: string): CellHistory => ({
    mark,
    kind: 'CR2032 cold-join',
    modelMedian: 20,
    countKnown: true,
    sends: 0,
    past: [],
    openingsPerYear: 30,
    observedOpenings: 0,
    observedDays: 0,
    quietDays: 1097,
    replaceBelow: 0.9,
  })
  it('are overdue after years, teach nothing of the cells of others, and take no memory', () => {
    const house = Array.from({ length: 300 }, (_, i) => never(`W${i}`))
    const unknown = house.map(cell => ({ ...cell, mark: `U${cell.mark}`, unknownBefore: 'unknown' as const }))
    const heard = { ...never('H'), quietDays: 0 }
    const left = leftByMark([...house, ...unknown, heard], { now: NOW })
    expect(left.W0!.alive).toBeLessThan(0.5)
    expect(left.UW0!.alive).toBeLessThan(0.5)
    expect(left.H).toEqual(leftByMark([heard], { now: NOW }).H)
  })
  it('cells that fell silent after one word, all at once, have figures too', () => {
    const house = Array.from({ length: 300 }, (_, i) => ({ ...never(`W${i}`), sends: 1, observedOpenings: i % 7 }))
    const { alive, p95 } = leftByMark(house, { now: NOW }).W0!
    expect(alive).toBeLessThan(0.5)
    expect(Number.isFinite(p95)).toBe(true)
  })
})

describe('one house at once', () => {
  it('reads each cell as its own forecast with the cells of other openings as history', () => {
    const house = [
      cell('W01', { sends: 11, openingsPerYear: 40, observedOpenings: 20, observedDays: 150, quietDays: 5 }),
      cell('W02', { sends: 4 }),
      cell('W03', { past: [dead(17)] }),
      cell('W04', { past: [dead(22)] }),
    ]
    const left = leftByMark(house, { now: NOW })
    const alone = forecast({ ...house[0]!, history: [dead(17), dead(22), { runningAt: 4 }], now: NOW })
    expect(Object.keys(left)).toEqual(['W01', 'W02', 'W03', 'W04'])
    for (const p of ['p05', 'p50', 'p95'] as const) {
      expect(Math.abs(left.W01![p] / alone.left[p] - 1)).toBeLessThan(0.005)
    }
    expect(left.W01!.next).toBeCloseTo(alone.next, 3)
    expect(left.W01!.alive).toBeCloseTo(alone.alive, 3)
    expect(Math.abs(left.W01!.changeBy! - alone.changeBy!)).toBeLessThan(86_400_000)
    expect(left.W01!.restsOn).toEqual({ source: 'house', cells: 4, deaths: 2 })
  })

  it('an opening learns most from its own cells', () => {
    const past = [7, 8, 6].map(dead)
    const left = leftByMark([cell('W01', { past }), cell('W02'), cell('W03')], { now: NOW })
    expect(left.W01!.p50).toBeLessThan(0.85 * left.W02!.p50)
    expect(left.W02!.p50).toBeCloseTo(left.W03!.p50, 9)
    expect(left.W02!.p50).toBeLessThan(0.95 * leftByMark([cell('W02')], { now: NOW }).W02!.p50)
  })

  it('kinds do not learn from each other', () => {
    const apart = leftByMark(
      [cell('W01', { past: [dead(6), dead(7), dead(6)] }), cell('W02', { kind: 'CR2450 cold-join' })],
      { now: NOW },
    )
    expect(apart.W02!.p50).toBeCloseTo(leftByMark([cell('W02')], { now: NOW }).W02!.p50, 6)
    expect(apart.W02!.restsOn).toEqual({ source: 'practice', cells: 0, deaths: 0 })
  })

  it('cells of one kind whose models differ share the ratio to the model', () => {
    const past = [16, 17, 18].map(dead)
    const other = cell('W03', { modelMedian: 40 })
    const left = leftByMark([cell('W01', { past }), cell('W02'), other], { now: NOW })
    expect(left.W03!.p50 / left.W02!.p50).toBeCloseTo(2, 2)
  })

  it('a past cell of another kind counts for that kind', () => {
    const past = [{ ...dead(300), kind: 'CR123A cold-join', modelMedian: 400 }]
    const left = leftByMark([cell('W01', { past }), cell('W02', { kind: 'CR123A cold-join', modelMedian: 400 })], {
      now: NOW,
    })
    expect(left.W01!.restsOn.deaths).toBe(0)
    expect(left.W02!.restsOn.deaths).toBe(1)
    expect(left.W02!.p50).toBeLessThan(leftByMark([cell('W02', { modelMedian: 400 })], { now: NOW }).W02!.p50)
  })

  it('what is known of a kind is said by the cells that are of it, not by a cell that came after one', () => {
    const moved = cell('W01', {
      kind: 'CR2450 cold-join',
      countKnown: false,
      past: [{ ...dead(17), kind: 'CR2032 cold-join' }],
    })
    const coin = cell('W02')
    const left = leftByMark([moved, coin], { now: NOW })
    expect(left.W02).toEqual(leftByMark([coin, moved], { now: NOW }).W02)
    expect(left.W02!.restsOn).toEqual({ source: 'house', cells: 1, deaths: 1 })
    expect(left.W01!.restsOn).toMatchObject({ source: 'practice', assumed: true })
  })
  it('a lower bound stays one until a cell of the kind has died here', () => {
    expect(leftByMark([cell('W01', { atLeast: true })], { now: NOW }).W01!.atLeast).toBe(true)
    const died = leftByMark([cell('W01', { atLeast: true, past: [dead(30)] })], { now: NOW })
    expect(died.W01).not.toHaveProperty('atLeast')
  })
  it('a silent contact is both running and dead, for itself and for what the others learn of it', () => {
    // a rate known well: 60 openings in 600 days
    const known = { observedOpenings: 60, observedDays: 600 }
    const alone = leftByMark([cell('W01', { sends: 3 })], { now: NOW }).W01!
    const of = (part: Partial<CellHistory>) =>
      leftByMark([cell('W01', { sends: 3 }), cell('W02', { sends: 38, ...known, ...part })], { now: NOW })
    const [running, doubtful, dead] = [of({}), of({ quietDays: 30 }), of({ quietDays: 400 })]
    expect(running.W02!.alive).toBe(1)
    expect(doubtful.W02!.alive).toBeGreaterThan(0.2)
    expect(doubtful.W02!.alive).toBeLessThan(0.9)
    expect(dead.W02!.alive).toBeLessThan(0.01)
    expect(dead.W02).toMatchObject({ p05: 0, p50: 0, p95: 0 })
    // that it came as far as 38 is known in any case; that it died there tells less than that it runs on
    expect(running.W01!.p50).toBeGreaterThan(doubtful.W01!.p50)
    expect(doubtful.W01!.p50).toBeGreaterThan(dead.W01!.p50)
    expect(dead.W01!.p50).toBeGreaterThan(alone.p50)
    const found = of({ past: [{ failedBetween: [38, 39] }], sends: 0 })
    expect(Math.abs(dead.W01!.p50 / found.W01!.p50 - 1)).toBeLessThan(0.01)
    // neither the date nor the chance of a cell that runs is moved by silence
    expect(dead.W02!.changeBy).toBe(running.W02!.changeBy)
    expect(dead.W02!.next / dead.W02!.alive).toBeCloseTo(running.W02!.next, 3)
  })

  it('a try that failed of itself is more likely the cell the further that has come', () => {
    const [fresh, old] = [2, 19].map(sends =>
      leftByMark([cell('W01', { sends, failing: true, past: [16, 18, 20].map(dead) })], { now: NOW }),
    )
    expect(fresh!.W01!.alive).toBeGreaterThan(0.5)
    expect(old!.W01!.alive).toBeLessThan(0.2)
  })

  it('a silent cell far beyond all others has figures too', () => {
    const far = { sends: 400, observedOpenings: 60, observedDays: 600, quietDays: 100 } as const
    for (const unknownBefore of [undefined, 'unknown'] as const) {
      const odd = cell('W02', { ...far, ...(unknownBefore ? { unknownBefore } : {}) })
      const { W02 } = leftByMark([cell('W01', { past: [18, 19, 21].map(dead) }), odd], { now: NOW })
      expect(W02!.next).toBeGreaterThan(0)
      expect(W02!.alive).toBeGreaterThan(0)
      expect(Number.isFinite(W02!.p95)).toBe(true)
    }
  })

  it('the order of openings changes no figure', () => {
    const house = ['W01', 'W02', 'W03'].map((mark, i) => cell(mark, { sends: 5 * i, past: [dead(12 + i)] }))
    const a = leftByMark(house, { now: NOW })
    const b = leftByMark([...house].reverse(), { now: NOW })
    for (const { mark } of house) expect(b[mark]!.p50).toBeCloseTo(a[mark]!.p50, 8)
  })

  it('a figure out of range names its mark', () => {
    expect(() => leftByMark([cell('W01'), cell('W07', { sends: -2 })], { now: NOW })).toThrow(/W07: sends.*-2/)
    expect(() => leftByMark([cell('W07', { past: [{ failedBetween: [4, 4] }] })], { now: NOW })).toThrow(
      /W07:.*\[4,4\]/,
    )
  })

  it('a time that is none is refused by name', () => {
    expect(() => leftByMark([cell('W01')], { now: Number.NaN })).toThrow(/now.*NaN/)
  })
  it('no cells, no figures', () => {
    expect(leftByMark([], { now: NOW })).toEqual({})
  })
})

describe('in time', () => {
  const house = (openings: number, pasts: number): CellHistory[] => {
    const random = seeded(4)
    return Array.from({ length: openings }, (_, i) =>
      cell(`W${i}`, {
        sends: Math.floor(random() * 25),
        past: i < pasts ? [dead(Math.floor(10 + random() * 20))] : [],
        openingsPerYear: 60,
        observedOpenings: Math.floor(random() * 40),
        observedDays: 200,
      }),
    )
  }
  /** Processor time, so that a busy machine fails nothing. */
  const milliseconds = (openings: number, pasts: number): number => {
    const cells = house(openings, pasts)
    let best = Infinity
    for (let i = 0; i < 3; i++) {
      const start = process.cpuUsage()
      leftByMark(cells, { now: NOW })
      const { user, system } = process.cpuUsage(start)
      best = Math.min(best, (user + system) / 1000)
    }
    return best
  }

  it('1,000 openings with 500 past cells take well under 2 s', () => {
    expect(milliseconds(1000, 500)).toBeLessThan(1000)
  })

  it('26 openings take a few milliseconds, with room here for a busy machine', () => {
    expect(milliseconds(26, 7)).toBeLessThan(60)
  })
})
