import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { Awaited } from '../../src/card/controllers/awaited.ts'
import type { Reading } from '../../src/protocol/reading.ts'

const UNTIL = Date.parse('2026-11-25T21:47:00.000Z')
const reading = (position: Reading['position']): Reading => ({
  mark: 'D01',
  position,
  doubts: [],
  openings: 3,
  sends: 0,
  asOf: '2026-11-25T21:47:05.000Z',
})
const shown = (awaited: Awaited, position: Reading['position'] = 'closed') =>
  awaited.cover(new Map([['D01', reading(position)]])).get('D01')?.unheard

describe('a door whose kept word is awaited', () => {
  beforeEach(() => void vi.useFakeTimers())
  afterEach(() => void vi.useRealTimers())

  test('is not certain until it comes, and nothing is written down where it does', () => {
    const told: string[] = []
    const awaited = new Awaited(mark => told.push(mark))
    awaited.wait('D01', UNTIL)
    expect(shown(awaited)).toBe('2026-11-25T21:47:00.000Z')
    expect(shown(awaited, 'open')).toBeUndefined()
    expect(awaited.heard('D01')).toBe(true)
    expect(shown(awaited)).toBeUndefined()
    vi.advanceTimersByTime(60_000)
    expect(told).toEqual([])
    expect(awaited.heard('D01')).toBe(false)
  })

  test('is written down as not certain where none comes, once, and at once where the page ends', () => {
    const told: [string, number][] = []
    const awaited = new Awaited((mark, until) => told.push([mark, until]))
    awaited.wait('D01', UNTIL)
    vi.advanceTimersByTime(9_999)
    expect(told).toEqual([])
    vi.advanceTimersByTime(1)
    expect(told).toEqual([['D01', UNTIL]])
    awaited.wait('D02', UNTIL)
    awaited.end()
    vi.advanceTimersByTime(60_000)
    expect(told.map(([mark]) => mark)).toEqual(['D01', 'D02'])
  })
})
