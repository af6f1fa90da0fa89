import { afterEach, beforeEach, expect, it, vi } from 'vitest'
import { atEveryTick, TICK_MILLISECONDS } from '../../src/keeper/ticks.ts'

beforeEach(() => void vi.useFakeTimers())
afterEach(() => void vi.useRealTimers())

it('all houses of a process share one timer, which ends with the last of them', () => {
  const ticks = Array.from({ length: 300 }, () => 0)
  const cancels = ticks.map((_, house) => atEveryTick(() => ticks[house]!++))
  expect(vi.getTimerCount()).toBe(1)
  vi.advanceTimersByTime(3 * TICK_MILLISECONDS)
  expect(new Set(ticks)).toEqual(new Set([3]))
  for (const cancel of cancels.slice(1)) cancel()
  vi.advanceTimersByTime(TICK_MILLISECONDS)
  expect(ticks.slice(0, 3)).toEqual([4, 3, 3])
  cancels[0]!()
  expect(vi.getTimerCount()).toBe(0)
  const cancel = atEveryTick(() => ticks[0]!++)
  vi.advanceTimersByTime(TICK_MILLISECONDS)
  expect(ticks[0], 'it begins anew').toBe(5)
  cancel()
})
