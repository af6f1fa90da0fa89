import { describe, expect, it } from 'vitest'
import { type ProofInput, proofInterval } from '../../src/budget/advice/proof-interval.ts'
import { seeded } from './random.ts'

const BASE: ProofInput = {
  acceptDays: 30,
  sendsPerCell: 20,
  provenWithinDays: 180,
  observedOpenings: 60,
  observedDays: 365.25,
}

/** Plays proofs, openings and tests of one contact at a known rate. */
function played(perDay: number, acceptDays: number, days: number) {
  const random = seeded(8)
  let tests = 0
  let proofs = 0
  let unnoticed = 0
  let longest = 0
  for (let day = 0; day < days; ) {
    const first = -Math.log(1 - random()) / perDay
    if (first > acceptDays) tests++
    // had the cell died at this opening, the test would have told so much later
    const late = Math.max(0, acceptDays - first)
    unnoticed += late
    longest = Math.max(longest, late)
    proofs++
    day += Math.min(first, acceptDays)
  }
  return { testsPerYear: (tests / days) * 365.25, meanUnnoticed: unnoticed / proofs, longest }
}

describe('how often to test', () => {
  it('agrees with a played century, and no death stays unnoticed longer than accepted', () => {
    // a well-known rate, so that only the play is uncertain
    const known = { observedOpenings: 30_000, observedDays: 500 * 365.25 }
    const result = proofInterval({ ...BASE, ...known })
    const play = played(30_000.5 / (500 * 365.25), 30, 3_000_000)
    expect(Math.abs(result.testsPerYear / play.testsPerYear - 1)).toBeLessThan(0.05)
    expect(Math.abs(result.meanUnnoticedDays / play.meanUnnoticed - 1)).toBeLessThan(0.02)
    expect(play.longest).toBeLessThanOrEqual(result.everyDays)
    expect(result.meanUnnoticedDays).toBeLessThan(30)
  })

  it('natural openings save tests: fewer than by the calendar, almost none on a busy window', () => {
    const seldom = proofInterval({ ...BASE, observedOpenings: 4 })
    const busy = proofInterval({ ...BASE, observedOpenings: 300 })
    expect(seldom.testsPerYear).toBeLessThan(seldom.calendarTestsPerYear)
    expect(busy.testsPerYear).toBeLessThan(0.1)
    expect(seldom.calendarTestsPerYear).toBeCloseTo(365.25 / 30, 10)
  })

  it('a window that is never opened is tested by the calendar, and the tests are what spends its cell', () => {
    const { openingsPerYear: _, ...rest } = { ...BASE, openingsPerYear: 0, observedOpenings: 0, observedDays: 0 }
    const result = proofInterval(rest)
    expect(result.testsPerYear).toBeCloseTo(365.25 / 30, 8)
    expect(result.testShare).toBe(1)
    expect(result.cellsPerYear).toBeCloseTo(365.25 / 30 / 20, 8)
    expect(result.untestedChance).toBe(1)
    expect(result.untestedAfterDays).toBe(180)
  })

  it('two sends an opening cost twice the cells, for openings and tests alike', () => {
    const [one, two] = [proofInterval(BASE), proofInterval({ ...BASE, sendsPerOpening: 2 })]
    expect(two.cellsPerYear).toBeCloseTo(2 * one.cellsPerYear, 9)
    expect(two.extraCellsPerYear).toBeCloseTo(2 * one.extraCellsPerYear, 9)
    expect(two.testsPerYear).toBe(one.testsPerYear)
    expect(two.testShare).toBeCloseTo(one.testShare, 9)
  })

  it('a shorter limit costs more cells', () => {
    const costs = [7, 30, 90, 180].map(acceptDays => proofInterval({ ...BASE, acceptDays }).extraCellsPerYear)
    for (let i = 1; i < costs.length; i++) expect(costs[i]!).toBeLessThan(costs[i - 1]!)
  })

  it('says when a gap of the proof limit is to be expected: the mean wait for a run of a Poisson stream', () => {
    const perDay = 4.5 / 365.25
    const { untestedAfterDays } = proofInterval({ ...BASE, observedOpenings: 4 })
    const random = seeded(9)
    let sum = 0
    const rounds = 20_000
    for (let i = 0; i < rounds; i++) {
      let day = 0
      for (let gap = -Math.log(1 - random()) / perDay; gap < 180; gap = -Math.log(1 - random()) / perDay) day += gap
      sum += day + 180
    }
    expect(Math.abs(untestedAfterDays! / (sum / rounds) - 1)).toBeLessThan(0.03)
    expect(proofInterval({ ...BASE, observedOpenings: 300 })).not.toHaveProperty('untestedAfterDays')
  })

  it('figures out of range are refused by name', () => {
    expect(() => proofInterval({ ...BASE, acceptDays: 0 })).toThrow(/acceptDays.*0/)
    expect(() => proofInterval({ ...BASE, sendsPerCell: Number.NaN })).toThrow(/sendsPerCell.*NaN/)
  })
})
