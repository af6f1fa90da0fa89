import { describe, expect, test } from 'vitest'
import { suit } from '../../src/budget/advice/suit.ts'
import { eventBudget } from '../../src/budget/circuit/event-budget.ts'

describe('whether a contact suits an opening', () => {
  test('a window opened 10 times a year suits, and says how often its cell is changed', () => {
    const rare = suit({ openingsPerYear: 10 })
    expect(rare).toMatchObject({ verdict: 'suits', ways: [] })
    expect(rare.cellsPerYear?.p50).toBeCloseTo(0.5, 9)
    expect(rare.cellsPerYear?.p05).toBeLessThan(0.5)
    expect(rare.cellsPerYear?.p95).toBeGreaterThan(0.5)
  })

  test('a rate that just meets what is accepted suits, with the worse end of its range said', () => {
    const limit = suit({ openingsPerYear: 40 })
    expect(limit.verdict).toBe('suits')
    expect(limit.reasons.join()).toContain('worse end')
  })

  test('120 times a year does not suit a cold join; a cached one would do, and so would mains', () => {
    const often = suit({ openingsPerYear: 120 })
    expect(often.verdict).toBe('does not suit')
    expect(often.cellsPerYear?.p50).toBeCloseTo(6, 9)
    const ways = often.ways.map(way => way.text)
    expect(ways).toContain('load cached-join')
    expect(ways).toContain('cell CR123A')
    expect(ways).not.toContain('cell CR2450')
    expect(often.ways.at(-1)?.change).toBe('mains')
    for (const way of often.ways) expect(way.cellsPerYear?.p50 ?? 0).toBeLessThanOrEqual(2)
    expect(suit({ openingsPerYear: 120 }, { changesPerYear: 6 }).verdict).toBe('suits')
  })

  test('where nothing alone would do, a load and a cell together are named', () => {
    const bright = suit({ openingsPerYear: 60_000 })
    expect(bright.ways.some(way => way.change === 'load and cell')).toBe(true)
    expect(bright.ways.some(way => way.change === 'load')).toBe(false)
  })

  test('a reservoir behind the reed without a bleed is refused: a quick reopening is never sent', () => {
    const reservoir = { farads: 0.047, place: 'after-reed' as const }
    const deaf = suit({ openingsPerYear: 5, reservoir })
    expect(deaf.verdict).toBe('does not suit')
    expect(deaf.reasons.join()).toContain('never sent')
    expect(deaf.ways.map(way => way.change)).toContain('reservoir')
    expect(suit({ openingsPerYear: 5, reservoir: { ...reservoir, bleedOhms: 1000 } }).verdict).toBe('suits')
  })

  test('a lamp that empties the cell is found', () => {
    const lit = suit({ openingsPerYear: 20, openMinutes: 480, lampMilliamps: 3 })
    expect(lit.verdict).toBe('does not suit')
    expect(lit.ways.map(way => way.text)).toContain('no lamp')
  })

  test('without a rate it is not known; on mains it always suits; a cell that is not known is said', () => {
    expect(suit({})).toMatchObject({ verdict: 'not known' })
    expect(suit({ resetVolts: 3.1 })).toMatchObject({ verdict: 'does not suit' })
    expect(suit(undefined)).toMatchObject({ verdict: 'suits', ways: [] })
    expect(suit({ cell: 'CR9', openingsPerYear: 5 }).reasons.join()).toContain('cell must be one of')
  })

  test('a bound that nobody knows is absent, and so is a count of cells that give no opening', () => {
    const easy = suit({ openingsPerYear: 60, resetVolts: 2.1 })
    expect(easy).toMatchObject({ atLeast: true, endedBy: 'volts' })
    expect(Object.keys(easy.cellsPerYear ?? {})).toEqual(['p50', 'p95'])
    const hardly = suit({ openingsPerYear: 6, temperatureCelsius: 8 })
    expect(hardly.reasons.join()).toMatch(/cells a year, but \d+(\.\d)? at the worse end of the range/)
    const never = suit({ openingsPerYear: 6, resetVolts: 3.1 })
    expect(never).toMatchObject({ verdict: 'does not suit', endedBy: 'never-starts' })
    expect(never.cellsPerYear).toBeUndefined()
    expect(never.reasons.join()).toContain('never starts')
  })

  test('warns of what is odd in a contact that suits', () => {
    const strong = suit({ cell: 'CR123A', openingsPerYear: 40 })
    expect(strong.verdict).toBe('suits')
    expect(strong.warnings.join()).toMatch(/capacities of single cells differ.*shelf life/)
    expect(suit({ openMinutes: 1440, openingsPerYear: 400 }).warnings.join()).toMatch(/more than a year/)
    expect(suit({ openingsPerYear: 6 }).warnings).toEqual([])
  })

  test('a cell in a window that is never opened is still changed within its shelf life', () => {
    expect(suit({ openingsPerYear: 0 }).cellsPerYear?.p50).toBeCloseTo(0.1, 9)
  })

  test('a contact that reports both edges from its cell sends twice and sleeps on it all year', () => {
    const both = eventBudget({ sendsPerOpening: 2, openingsPerYear: 10, openMinutes: 30 })
    expect(both.openings.p50).toBeCloseTo(10, 6)
    // 5 uA all year, counted for the nine openings before the last.
    const asleep = both.parts.find(part => part.name === 'asleep')?.milliampHours ?? 0
    expect(asleep).toBeCloseTo((9 * 0.005 * 8766) / 10, 1)
  })
})
