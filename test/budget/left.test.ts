import { describe, expect, it } from 'vitest'
import { forecast } from '../../src/budget/lives/forecast.ts'
import { type CellHistory, leftByMark, type PastCell } from '../../src/budget/lives/left.ts'
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

describe('one house at once', () => {
  it('reads each cell as its own forecast with the others as history', () => {
    const house = [
      cell('W01', {
        sends: 11,
        past: [dead(17), dead(22)],
        openingsPerYear: 40,
        observedOpenings: 20,
        observedDays: 150,
      }),
      cell('W02', { sends: 4, past: [{ runningAt: 9 }] }),
      cell('W03'),
    ]
    const left = leftByMark(house, { now: NOW })
    const alone = forecast({
      ...cell('W01', { sends: 11, openingsPerYear: 40, observedOpenings: 20, observedDays: 150 }),
      history: [dead(17), dead(22), { runningAt: 4 }, { runningAt: 9 }, { runningAt: 0 }],
      now: NOW,
    })
    expect(Object.keys(left)).toEqual(['W01', 'W02', 'W03'])
    for (const p of ['p05', 'p50', 'p95'] as const) {
      expect(Math.abs(left.W01![p] / alone.left[p] - 1)).toBeLessThan(0.002)
    }
    expect(left.W01!.next).toBeCloseTo(alone.next, 4)
    expect(Math.abs(left.W01!.changeBy! - alone.changeBy!)).toBeLessThan(86_400_000)
    expect(left.W01!.restsOn).toEqual({ source: 'house', cells: 5, deaths: 2 })
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
    const left = leftByMark([cell('W01', { past }), cell('W02', { modelMedian: 40 })], { now: NOW })
    expect(left.W02!.p50 / left.W01!.p50).toBeCloseTo(2, 2)
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
  it('a contact silent beyond its 99 % point is no running cell: the others learn nothing from it', () => {
    const alone = leftByMark([cell('W01', { sends: 3 })], { now: NOW }).W01!
    const silent = leftByMark([cell('W01', { sends: 3 }), cell('W02', { sends: 38, silentBeyond99: true })], {
      now: NOW,
    })
    const running = leftByMark([cell('W01', { sends: 3 }), cell('W02', { sends: 38 })], { now: NOW })
    expect(silent.W01).toEqual(alone)
    expect(running.W01!.p50).toBeGreaterThan(1.05 * alone.p50)
    expect(silent.W02!.ifRunning).toBe(true)
    expect(silent.W02!.changeBy).toBe(NOW)
    // its own figures still know that it came so far
    expect(Math.abs(silent.W02!.p50 / running.W02!.p50 - 1)).toBeLessThan(0.01)
  })

  it('a silent cell far beyond all others has figures too', () => {
    const far = { sends: 400, silentBeyond99: true } as const
    for (const unknownBefore of [undefined, 'unknown'] as const) {
      const odd = cell('W02', { ...far, ...(unknownBefore ? { unknownBefore } : {}) })
      const { W02 } = leftByMark([cell('W01', { past: [18, 19, 21].map(dead) }), odd], { now: NOW })
      expect(W02!.p50).toBeGreaterThan(0)
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
