import { describe, expect, it } from 'vitest'
import { withAbsence } from '../../src/budget/lives/absence.ts'
import { type CellHistory, silenceOf } from '../../src/budget/lives/cell-history.ts'

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
  it('is empty rather than full of dead cells: silence tells nothing of them', () => {
    const { cells, absence } = withAbsence(
      marks.map(mark => silent(mark, 40)),
      38,
    )
    expect(absence.chance).toBeGreaterThan(0.99)
    // only the two days before the house fell silent count
    for (const cell of cells) expect(silenceOf(cell)).toBeGreaterThan(0.9 * silenceOf(silent('W', 2)))
  })

  it('is not empty while anything is heard: one that is silent among others is judged by its own rate', () => {
    const house = marks.map((mark, i) => silent(mark, i === 0 ? 40 : 3))
    const { cells, absence } = withAbsence(house, 0.1)
    expect(absence.chance).toBeLessThan(0.1)
    expect(silenceOf(cells[0]!)).toBeLessThan(0.01)
    expect(silenceOf(cells[1]!)).toBeCloseTo(silenceOf(silent('W', 3)), 2)
  })

  it('an opening alone in its house is judged by its own silence, whose chance is at least that of an empty house', () => {
    const [only] = withAbsence([silent('W01', 40)], 40).cells
    expect(silenceOf(only!)).toBeGreaterThanOrEqual(0.04)
    expect(silenceOf(only!)).toBeLessThan(0.05)
  })
})
