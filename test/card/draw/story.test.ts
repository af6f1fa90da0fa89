import { describe, expect, test } from 'vitest'
import { drawDay, drawMonths } from '../../../src/card/draw/story.ts'
import type { StoryNote } from '../../../src/protocol/story.ts'

const iso = (text: string) => Date.parse(text)
const now = iso('2026-11-25T21:00:00Z')
const options = { timezone: 'Europe/Lisbon', width: 528, at: now, saysShut: false } as const
const quiet: StoryNote = { v: 1, mark: 'W02', months: [], openings: [], cells: [] }

type Drawn = ReturnType<typeof drawDay>
const ticksOf = ({ shapes }: Drawn) =>
  shapes.flatMap(shape => ('text' in shape ? [[shape.text, shape.x] as const] : []))
const pathOf = ({ shapes }: Drawn, pen: string): string =>
  shapes.flatMap(shape => ('pen' in shape && shape.pen === pen ? [shape.d] : [])).join('')
const xsOf = (path: string) => [...path.matchAll(/[ML](-?[\d.]+)/g)].map(([, x]) => Number(x))
/** Where on the day a place is, in hours; the axis is 500 wide and begins at 14. */
const hourAt = (x: number) => ((x - 14) / 500) * 24

describe('the day of a story', () => {
  test('an hour that the clock repeats is drawn twice as wide, one that it skips not at all', () => {
    const gapAfterMidnight = (day: string) => {
      const ticks = new Map(ticksOf(drawDay(quiet, { ...options, at: iso(`${day}T12:00:00Z`) })))
      return (ticks.get('03')! - ticks.get('00')!) / (ticks.get('09')! - ticks.get('06')!)
    }
    expect(gapAfterMidnight('2026-11-25')).toBeCloseTo(1, 2)
    expect(gapAfterMidnight('2026-10-25')).toBeCloseTo(4 / 3, 2)
    expect(gapAfterMidnight('2026-03-29')).toBeCloseTo(2 / 3, 2)
  })

  test('is that of the house, not of the reader', () => {
    const story = { ...quiet, openings: [['2026-11-25T23:30:00.000Z']] } as StoryNote
    const late = iso('2026-11-25T23:40:00Z')
    expect(hourAt(xsOf(pathOf(drawDay(story, { ...options, at: late }), 'sent'))[0]!)).toBeCloseTo(23.5, 2)
    expect(
      hourAt(xsOf(pathOf(drawDay(story, { ...options, at: late, timezone: 'Europe/Berlin' }), 'sent'))[0]!),
    ).toBeCloseTo(0.5, 2)
  })

  test('counts and draws its own openings, and lets the last one last until it is known shut', () => {
    const story = {
      ...quiet,
      openings: [
        ['2026-11-24T10:00:00.000Z', null, '2026-11-24T11:00:00.000Z'],
        ['2026-11-25T10:00:00.000Z', null, '2026-11-25T12:00:00.000Z'],
        ['2026-11-25T18:00:00.000Z'],
      ],
    } as StoryNote
    const day = drawDay(story, options)
    expect(day.openings).toBe(2)
    expect(pathOf(day, 'sent').match(/M/g)).toHaveLength(2)
    expect(pathOf(day, 'open-void')).toBe('')
    const hours = xsOf(pathOf(day, 'opened-void')).map(hourAt)
    expect(Math.min(...hours)).toBeCloseTo(10, 0)
    expect(Math.max(...hours)).toBeLessThanOrEqual(21.01)
    expect(hours.some(hour => hour > 12.1 && hour < 17.9)).toBe(false)
    const door = xsOf(pathOf(drawDay(story, { ...options, saysShut: true }), 'open-void')).map(hourAt)
    expect([Math.min(...door), Math.max(...door)].map(Math.round)).toEqual([10, 21])
  })

  test('what was open over midnight is open from midnight, and nothing lasts beyond now', () => {
    const story = { ...quiet, openings: [['2026-11-24T22:00:00.000Z']] } as StoryNote
    const day = drawDay(story, { ...options, saysShut: true })
    const hours = xsOf(pathOf(day, 'open-void')).map(hourAt)
    expect([Math.min(...hours), Math.max(...hours)].map(Math.round)).toEqual([0, 21])
    expect(day.openings).toBe(0)
  })

  test('a word that waited is a bracket, and its opening is sure from the end of it', () => {
    const story = { ...quiet, openings: [['2026-11-25T10:00:00.000Z', '2026-11-25T12:00:00.000Z']] } as StoryNote
    const day = drawDay(story, { ...options, saysShut: true })
    expect(xsOf(pathOf(day, 'sure')).map(x => Math.round(hourAt(x)))).toEqual([10, 10, 12, 12])
    expect(Math.round(hourAt(Math.min(...xsOf(pathOf(day, 'open-void')))))).toBe(12)
  })

  test('is hatched where nobody listened', () => {
    const story = { ...quiet, unheard: [['2026-11-24T22:00:00.000Z', '2026-11-25T06:00:00.000Z']] } as StoryNote
    const hours = xsOf(pathOf(drawDay(story, options), 'expected')).map(hourAt)
    expect([Math.min(...hours), Math.max(...hours)].map(Math.round)).toEqual([0, 6])
  })
})

describe('the months of a story', () => {
  const months = (listened: number) =>
    ['2026-09', '2026-10', '2026-11'].map((month, n) => ({ month, openings: n * 4, listened: n === 2 ? listened : 1 }))

  test('have their names in the reader’s language and their number of openings', () => {
    const drawn = drawMonths({ ...quiet, months: months(0.82) }, { ...options, locale: 'de' })
    expect(ticksOf(drawn).map(([text]) => text)).toEqual(['Sep', '4', 'Okt', '8', 'Nov'])
    expect(drawn.openings).toBe(12)
  })

  test('are hatched as far as nobody listened; the rest of the present one is not', () => {
    expect(pathOf(drawMonths({ ...quiet, months: months(0.82) }, options), 'expected')).toBe('')
    const xs = xsOf(pathOf(drawMonths({ ...quiet, months: months(0.5) }, options), 'expected'))
    const column = 500 / 3
    expect(Math.min(...xs)).toBeGreaterThanOrEqual(14 + 2 * column)
    expect(Math.max(...xs) - (14 + 2 * column)).toBeLessThan(0.36 * column)
  })

  test('have a mark where a cell was fitted', () => {
    const story: StoryNote = {
      ...quiet,
      months: months(0.82),
      cells: [{ fitted: '2026-09-16T10:00:00.000Z', sends: 3 }],
    }
    const bare = xsOf(pathOf(drawMonths({ ...story, cells: [] }, options), 'solid'))
    const marked = xsOf(pathOf(drawMonths(story, options), 'solid'))
    expect(marked.length - bare.length).toBe(3)
    expect(marked.at(-3)).toBeCloseTo(14 + (500 / 3) * 0.5, 0)
  })
})
