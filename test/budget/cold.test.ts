import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { eventBudget } from '../../src/budget/circuit/event-budget.ts'
import type { CellHistory } from '../../src/budget/lives/cell-history.ts'
import { furtherSends, hardestSend, type Shares, type Spread, wornBy } from '../../src/budget/lives/cold.ts'
import { leftByMark } from '../../src/budget/lives/left.ts'
import { toStep } from '../../src/budget/lives/send-steps.ts'
import type { BudgetSender } from '../../src/budget/types.ts'
import { type House, passDay, startHouse, WORLDS, YEAR } from './houses.ts'
import { DAY, historyOf, timeIn } from './tallied.ts'

const shares = fc.array(fc.double({ min: 0.05, max: 1, noNaN: true }), { minLength: 12, maxLength: 12 })
const JANUARY = Date.UTC(2024, 0, 16)

describe('what sends come to at room temperature', () => {
  /** Send by send, each on its own day. */
  const oneByOne = (of: Shares, { from, perYear, already }: Spread, sends: number): number => {
    let most = 0
    for (let i = 1; i <= sends; i++) {
      const months = (from + ((i - 1) / perYear) * YEAR * DAY - JANUARY) / ((YEAR * DAY) / 12)
      const whole = Math.floor(months)
      const [low, high] = [of[((whole % 12) + 12) % 12]!, of[(((whole + 1) % 12) + 12) % 12]!]
      most = Math.max(most, (already + i) / (low + (high - low) * (months - whole)))
    }
    return most
  }

  it('is the most that any of them comes to on its day', () => {
    const spread = fc.record({
      from: fc.integer({ min: Date.UTC(2022, 0), max: Date.UTC(2028, 0) }),
      perYear: fc.double({ min: 2000, max: 6000, noNaN: true }),
      already: fc.nat(5000),
    })
    fc.assert(
      fc.property(shares, spread, fc.integer({ min: 1, max: 12_000 }), (of, at, sends) => {
        // sends that come this close miss the very day of the worst by little
        expect(wornBy(of, at, sends) / oneByOne(of, at, sends)).toBeCloseTo(1, 1)
        expect(wornBy(of, at, sends)).toBeGreaterThanOrEqual(oneByOne(of, at, sends) * (1 - 1e-6))
      }),
      { numRuns: 60 },
    )
  })

  it('where it is never cold they are what they are, and so is what is left of them', () => {
    const none = Array<number>(12).fill(1)
    const ahead = { from: JANUARY, perYear: 40, already: 7 }
    expect(wornBy(none, ahead, 5)).toBe(12)
    expect(furtherSends({ shares: none, worn: 7, ahead }, 20)).toBeCloseTo(13, 4)
    expect(furtherSends({ shares: none, worn: 7, ahead }, 5)).toBe(0)
  })

  it('one that was tried at a time not known has come to the most of that time', () => {
    const winter = [0.5, 0.6, 0.7, 0.8, 0.9, 1, 1, 1, 0.9, 0.8, 0.7, 0.6]
    const in2025 = (month: number): number => JANUARY + YEAR * DAY + (month * YEAR * DAY) / 12
    expect(hardestSend(winter, 10, in2025(5), in2025(6))).toBeCloseTo(10, 6)
    expect(hardestSend(winter, 10, in2025(5), in2025(8))).toBeCloseTo(10 / 0.9, 6)
    expect(hardestSend(winter, 10, in2025(5), in2025(17))).toBeCloseTo(20, 6)
  })
})

describe('the budget of a contact whose temperature follows the season', () => {
  const middle = (sender: BudgetSender): number => eventBudget(sender).openings.p50

  it('is that of one temperature where both are the same', () => {
    const steady = eventBudget({ temperatureCelsius: 8 })
    const season = eventBudget({ seasonCelsius: { january: 8, july: 8 } })
    for (const p of ['p05', 'p50', 'p95'] as const) expect(season.openings[p] / steady.openings[p]).toBeCloseTo(1, 2)
    expect(season.countKnown).toBe(false)
    const warm = eventBudget({ seasonCelsius: { january: 24, july: 22 } }).openings
    for (const p of ['p05', 'p50', 'p95'] as const) expect(warm[p]).toBeCloseTo(eventBudget({}).openings[p], 3)
  })

  it('depends on when the cell is fitted: before the winter it gives less than before the summer', () => {
    const seasonCelsius = { january: 8, july: 22 }
    const fitted = (fittedAt: string) => middle({ seasonCelsius, fittedAt, openingsPerYear: 60 })
    expect(fitted('2026-03-15')).toBeGreaterThan(1.5 * fitted('2026-10-15'))
    // through the summer it can give what it gives at room temperature
    expect(middle({ seasonCelsius, fittedAt: '2026-06-01', openingsPerYear: 120 })).toBeCloseTo(20, 0)
    expect(
      middle({ seasonCelsius: { january: 22, july: 8 }, openingsPerYear: 120, fittedAt: '2026-12-01' }),
    ).toBeCloseTo(20, 0)
    // nobody said when: in the coldest month
    expect(middle({ seasonCelsius, openingsPerYear: 400 })).toBeCloseTo(middle({ temperatureCelsius: 8 }), 0)
  })

  it('says what it assumed, and what each month would give', () => {
    const { restsOn, byMonth, sensitivity, warnings } = eventBudget({
      seasonCelsius: { january: -20, july: 21 },
      fittedAt: '2026-11-30',
    })
    expect(byMonth).toHaveLength(12)
    expect(byMonth![6]).toBeCloseTo(20, 6)
    expect(byMonth![0]).toBe(0)
    expect(restsOn.filter(({ name }) => /temperature|fitted/.test(name))).toMatchObject([
      { name: 'temperature in January', value: -20, source: expect.stringContaining('no source') },
      { name: 'temperature in July', value: 21 },
      { name: 'month in which the cell is fitted', value: 11 },
    ])
    expect(sensitivity.map(({ name }) => name)).toContain('cold')
    expect(warnings.join()).toMatch(/in the coldest months the module does not start, by our own factors/)
    expect(() => eventBudget({ seasonCelsius: { january: -50, july: 21 } })).toThrow(/seasonCelsius\.january.*-50/)
    expect(() => eventBudget({ seasonCelsius: { january: 5, july: 21 }, fittedAt: 'soon' })).toThrow(/fittedAt.*soon/)
  })
})

describe('forecasts in houses whose cells give up to 60 % less in winter (simulated, no source)', () => {
  const LOSS = 0.6
  const WINTER: Shares = Array.from({ length: 12 }, (_, m) => 1 - (LOSS * (1 + Math.cos((2 * Math.PI * m) / 12))) / 2)
  const world = {
    name: 'cold',
    cells: (random: () => number) => ({ ...WORLDS[0]!.cells(random), winterLoss: LOSS }),
  }

  function coldHistories(house: House): CellHistory[] {
    return house.contacts.map(contact => {
      const cell = historyOf(house, contact)
      const { sends, fittedAt, lastAt } = contact
      const years = Math.max(1e-9, (lastAt - fittedAt) / YEAR)
      const past = { from: timeIn(house, fittedAt), perYear: Math.max(1, sends - 1) / years, already: 0 }
      const worn = wornBy(WINTER, past, sends)
      const rate = (cell.observedOpenings + 0.5) / (Math.max(14, cell.observedDays) / YEAR)
      return {
        ...cell,
        countKnown: false,
        cold: {
          shares: WINTER,
          worn,
          hardest: Math.max(worn, hardestSend(WINTER, sends + 1, timeIn(house, lastAt), timeIn(house, house.day))),
          ahead: { from: timeIn(house, house.day), perYear: rate, already: sends },
        },
      }
    })
  }

  it('hold nine in ten and are half as wide where the season is told, and say whether the next gets through', () => {
    let [held, rows, next, came, width, plain] = [0, 0, 0, 0, 0, 0]
    for (let h = 0; h < 40; h++) {
      const house = startHouse(world, 500 + h)
      while (house.day < 60 + 7 * h) passDay(house)
      const now = timeIn(house, house.day)
      const told = coldHistories(house)
      const left = leftByMark(told, { now })
      const untold = leftByMark(
        told.map(({ cold: _, ...cell }) => cell),
        { now },
      )
      const before = house.contacts.map(({ sends }) => sends)
      // to the end of every cell: the truth is what still came
      for (let day = 0; day < 4000 && house.contacts.some(({ deadAt }) => deadAt === undefined); day++) passDay(house)
      for (const [i, { mark, sends }] of house.contacts.entries()) {
        const { p05, p95, next: through } = left[mark]!
        const truth = sends - before[i]!
        if (truth >= Math.floor(p05) && truth <= p95) held++
        width += p95 - p05
        plain += untold[mark]!.p95 - untold[mark]!.p05
        next += through
        if (truth >= 1) came++
        rows++
      }
    }
    expect(held / rows).toBeGreaterThan(0.9)
    expect(width / plain).toBeLessThan(0.6)
    expect(Math.abs(next / rows - came / rows)).toBeLessThan(0.05)
  })
})

it('told in steps that cells share, what a cell has come to moves no range and no chance by more than a step', () => {
  const even: Shares = Array.from({ length: 12 }, () => 0.7)
  const winter: Shares = Array.from({ length: 12 }, (_, m) => 1 - 0.3 * (1 + Math.cos((2 * Math.PI * m) / 12)))
  fc.assert(
    fc.property(fc.double({ min: 0.5, max: 40, noNaN: true }), fc.nat(11), (worn, month) => {
      const leftOf = (of: number, shares: Shares) =>
        leftByMark(
          [
            {
              mark: 'W01',
              kind: 'coin',
              modelMedian: 20,
              countKnown: true,
              sends: 6,
              past: [],
              openingsPerYear: 40,
              observedOpenings: 6,
              observedDays: 60,
              replaceBelow: 0.9,
              cold: {
                shares,
                worn: of,
                hardest: of + 2,
                ahead: { from: JANUARY + (month * YEAR * DAY) / 12, perYear: 40, already: 6 },
              },
            },
          ],
          { now: 0 },
        ).W01!
      const [exact, stepped] = [leftOf(worn, even), leftOf(toStep(worn), even)]
      // half a step of what it has come to, and as much of what is left
      for (const p of ['p05', 'p50', 'p95'] as const)
        expect(Math.abs(stepped[p] - exact[p])).toBeLessThan(0.025 * (worn + exact[p]))
      // Where hardly a cell dies between two winters a range may end in either: there only the chance moves little.
      for (const shares of [even, winter])
        expect(Math.abs(leftOf(toStep(worn), shares).next - leftOf(worn, shares).next)).toBeLessThan(0.025)
    }),
    { numRuns: 25 },
  )
})

describe('the range of one new cell in the cold', () => {
  const celsius = fc.double({ min: -28, max: 26, noNaN: true })
  const sender = fc.record({
    load: fc.constantFrom('cold-join', 'cached-join'),
    cell: fc.constantFrom('CR2032', 'CR2450', 'CR123A'),
    inSeason: fc.boolean(),
  })
  const at = ({ inSeason, ...of }: { load: string; cell: string; inSeason: boolean }, january: number) =>
    eventBudget({
      ...of,
      ...(inSeason ? { seasonCelsius: { january, july: january + 3 } } : { temperatureCelsius: january }),
      openingsPerYear: 120,
    })

  it('has a width wherever the factor without a source moves the count', () => {
    fc.assert(
      fc.property(sender, celsius, (of, january) => {
        const { openings, sensitivity } = at(of, january)
        const cold = sensitivity.find(({ name }) => name === 'cold')
        if (!cold || cold.better - cold.worse < 0.01) return
        expect(openings.p95 - openings.p05).toBeGreaterThan(0.2 * cold.better)
        expect(openings.p95).toBeGreaterThan(cold.better)
      }),
      { numRuns: 60 },
    )
  })

  it('falls with the temperature, at both ends and in the middle, and without a step at room temperature', () => {
    fc.assert(
      fc.property(sender, celsius, celsius, (of, one, other) => {
        const [colder, warmer] = [at(of, Math.min(one, other)).openings, at(of, Math.max(one, other)).openings]
        for (const p of ['p05', 'p50', 'p95'] as const)
          expect(colder[p]).toBeLessThanOrEqual(warmer[p] * (1 + 2e-3) + 1e-6)
      }),
      { numRuns: 60 },
    )
    const [warm, cool] = [eventBudget({}).openings, eventBudget({ temperatureCelsius: 20.9 }).openings]
    for (const p of ['p05', 'p50', 'p95'] as const) expect(cool[p] / warm[p]).toBeCloseTo(1, 1)
  })

  it('near the cliff of the model it goes on from none', () => {
    const { openings, sensitivity, endedBy, warnings } = eventBudget({ temperatureCelsius: 1 })
    // 0.9 V - 0.075 A x 9.33 ohm x (1 + 0.015 x 20) is under 0: by the factor as it stands the module does not start
    expect(endedBy).toBe('never-starts')
    expect(warnings.join()).toMatch(/never starts: .*our own factors for the cold, which have no source/)
    expect(openings.p05).toBeLessThan(1)
    expect(openings.p95).toBeGreaterThan(10)
    expect(sensitivity.find(({ name }) => name === 'cold')!.better).toBeGreaterThan(9)
  })
})
