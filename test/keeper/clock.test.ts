import { describe, expect, it } from 'vitest'
import { elapsedOf } from '../../src/keeper/clock.ts'

describe('time that nobody can set', () => {
  /** Milliseconds. @param tells - whether the machine tells how long it slept */
  const machine = (tells = true) => {
    const at = { now: Date.UTC(2026, 5, 1), awake: 5_000, up: 90_000 }
    const elapsed = elapsedOf({ now: () => at.now, awake: () => at.awake, up: () => (tells ? at.up : at.awake) })
    const began = elapsed()
    return {
      elapsed: () => elapsed() - began,
      runs(by: number): void {
        at.now += by
        at.awake += by
        at.up += by
      },
      sleeps(by: number): void {
        at.now += by
        at.up += by
      },
      isSet(by: number): void {
        at.now += by
      },
      /** What the system writes of it has hundredths of a second. */
      isRead(by: number): void {
        at.up += by
      },
    }
  }

  it('goes on while the machine sleeps', () => {
    const { runs, sleeps, elapsed } = machine()
    runs(1_000)
    sleeps(30_000)
    expect(elapsed()).toBe(31_000)
    runs(500)
    sleeps(3_600_000)
    runs(500)
    expect(elapsed()).toBe(3_632_000)
  })

  it('takes many short sleeps for what they are together', () => {
    const { runs, sleeps, elapsed } = machine()
    for (let n = 0; n < 30; n++) {
      sleeps(400)
      runs(1_000)
      expect(Math.abs(elapsed() - 1_400 * (n + 1))).toBeLessThan(1_000)
    }
  })

  it('is not moved by a clock that is set, forward or back, before a sleep or in it', () => {
    const { runs, sleeps, isSet, isRead, elapsed } = machine()
    isSet(7_200_000)
    isRead(-10)
    expect(elapsed()).toBe(0)
    isSet(-7_200_000)
    isRead(10)
    expect(elapsed()).toBe(0)
    sleeps(60_000)
    isSet(-3_600_000)
    runs(1_000)
    expect(elapsed()).toBe(61_000)
  })

  it('stands still with a machine that does not tell its sleep', () => {
    const { sleeps, elapsed } = machine(false)
    sleeps(30_000)
    expect(elapsed()).toBe(0)
  })
})
