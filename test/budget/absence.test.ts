import { describe, expect, it } from 'vitest'
import { emptyChance } from '../../src/budget/lives/absence.ts'
import type { CellHistory } from '../../src/budget/lives/cell-history.ts'

const silent = (mark: string, quietDays: number, perYear = 60): CellHistory => ({
  mark,
  kind: 'coin',
  modelMedian: 20,
  countKnown: true,
  sends: 5,
  past: [],
  observedOpenings: perYear,
  observedDays: 365.25,
  quietDays,
  replaceBelow: 0.9,
})
const marks = Array.from({ length: 12 }, (_, i) => `W${i}`)

describe('a house of which nothing is heard', () => {
  it('is more likely empty or cut off than full of cells that died on one day', () => {
    const house = marks.map(mark => silent(mark, 40))
    expect(emptyChance(house, 38)).toBeGreaterThan(0.99)
  })

  it('is not empty while anything is heard, however long one of its openings is silent', () => {
    const house = marks.map((mark, i) => silent(mark, i === 0 ? 40 : 3))
    expect(emptyChance(house, 0.1)).toBeLessThan(0.1)
  })

  it('of one opening is not known to be empty by that alone: it may as well be the cell', () => {
    const chance = emptyChance([silent('W01', 40)], 40)
    expect(chance).toBeGreaterThan(0.04)
    expect(chance).toBeLessThan(0.5)
  })
})
