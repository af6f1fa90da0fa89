import { describe, expect, it } from 'vitest'
import { checkedNow, isWrongNow, lookAt, watchClock } from '../../src/house/clock.ts'
import { DAY, HOUR, MINUTE } from '../../src/text/time.ts'

const KNOWN = Date.parse('2026-06-01T12:00:00.000Z')
const at = (now: number, elapsed = 0) => ({ now, elapsed })

describe('a clock', () => {
  it('that is behind the last time known, or behind this program, cannot be right, and is believed once it was', () => {
    expect(watchClock(at(KNOWN - MINUTE), KNOWN).isWrong).toBe(false)
    expect(watchClock(at(180_000)).isWrong).toBe(true)
    const behind = watchClock(at(KNOWN - HOUR), KNOWN)
    expect(behind.isWrong).toBe(true)
    const { clock: set, stepMilliseconds } = lookAt(behind, at(KNOWN + HOUR, MINUTE))
    expect([set.isWrong, stepMilliseconds]).toEqual([false, HOUR - MINUTE])
    expect(isWrongNow(set, at(KNOWN - HOUR, 2 * MINUTE))).toBe(false)
  })

  it('goes on from the last time known, but not where it is far behind: then either may be wrong', () => {
    const near = watchClock(at(KNOWN - HOUR), KNOWN)
    expect(checkedNow(near, at(KNOWN - HOUR, MINUTE))).toBe(KNOWN + MINUTE)
    const far = watchClock(at(KNOWN - 3 * HOUR), KNOWN)
    expect(far.isWrong).toBe(true)
    expect(checkedNow(far, at(KNOWN - 3 * HOUR))).toBe(KNOWN - 3 * HOUR)
  })

  it('that nobody sets for a day is believed, unless it is older than this program', () => {
    const behind = watchClock(at(KNOWN - HOUR), KNOWN)
    expect(isWrongNow(behind, at(KNOWN - HOUR + DAY - 1, DAY - 1))).toBe(true)
    expect(isWrongNow(behind, at(KNOWN - HOUR + DAY, DAY))).toBe(false)
    const old = watchClock(at(180_000), KNOWN)
    expect(isWrongNow(old, at(180_000 + 9 * DAY, 9 * DAY))).toBe(true)
  })

  it('that was right for months and is set to 1970 is wrong at once, and goes on from the last look', () => {
    const right = lookAt(watchClock(at(KNOWN), KNOWN), at(KNOWN + 90 * DAY, 90 * DAY)).clock
    const reset = at(5_000, 90 * DAY + MINUTE)
    expect(isWrongNow(right, reset)).toBe(true)
    expect(checkedNow(right, reset)).toBe(KNOWN + 90 * DAY + MINUTE)
    const { clock: wrong, stepMilliseconds } = lookAt(right, reset)
    expect([wrong.isWrong, stepMilliseconds]).toEqual([true, 0])
    const behind = at(KNOWN + 90 * DAY - HOUR, 90 * DAY + 2 * MINUTE)
    expect(isWrongNow(wrong, behind), 'set, but behind the last look').toBe(true)
    expect(lookAt(wrong, at(KNOWN + 90 * DAY + HOUR, 90 * DAY + HOUR)).clock.isWrong).toBe(false)
  })

  it('that is set steps by whole milliseconds, however the timers count; drift is no step', () => {
    const clock = watchClock(at(KNOWN + 0.3, 10.1), KNOWN)
    expect(lookAt(clock, at(KNOWN + 0.3 + 20.000_01 + MINUTE, 30.1)).stepMilliseconds).toBe(MINUTE)
    expect(lookAt(clock, at(KNOWN + 4_000, 10.1)).stepMilliseconds).toBe(0)
  })
})
