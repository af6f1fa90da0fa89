import { describe, expect, test } from 'vitest'
import { calibrate } from '../../src/budget/calibrate.ts'
import { eventBudget } from '../../src/budget/event-budget.ts'

describe('calibrating from a known count', () => {
  test('20 openings give back 0.12 V per mAh, or 9.33 ohm', () => {
    expect(calibrate({}, 20).voltsPerMilliampHour).toBeCloseTo(0.12, 12)
    expect(calibrate({}, 20, { solve: 'resistance' }).effectiveOhms).toBeCloseTo(28 / 3, 10)
    expect(calibrate({}, 20).endRestedVolts).toBeCloseTo(3, 10)
  })

  test.each([
    [{ load: 'cached-join' }, 30],
    [{ load: 'fast-join', openMinutes: 600 }, 150],
    [{ reservoir: { farads: 0.002, place: 'after-reed' as const } }, 12],
    [{ resetVolts: 2.4, temperatureCelsius: 15 }, 5],
  ])('the solved cell gives the count back: %o', (sender, count) => {
    for (const solve of ['ageing', 'resistance'] as const) {
      const { cell } = calibrate(sender, count, { solve })
      expect(eventBudget({ ...sender, cell }).openings.p50, solve).toBeCloseTo(count, 6)
    }
  })

  test('a count above the common one leaves the known volts, and the budget of that cell is at least', () => {
    const { cell, endRestedVolts } = calibrate({}, 40, { solve: 'resistance' })
    expect(endRestedVolts).toBeCloseTo(2.8, 9)
    expect(eventBudget({ cell })).toMatchObject({ atLeast: true })
  })

  test('says where the assumptions stand against published figures', () => {
    const { against } = calibrate({}, 20)
    const by = (text: string) => against.find(row => row.published.startsWith(text))
    expect(by('at most 10.7')).toMatchObject({ agrees: true, here: '9.33 ohm' })
    expect(by('18 to 30')).toMatchObject({ agrees: false })
    expect(by('60.5 to 87 mA')).toMatchObject({ agrees: true, here: '75 mA' })
    expect(by('272 to 335')).toMatchObject({ agrees: false })
    expect(by('the default level')).toMatchObject({ agrees: false, here: '0.0' })
    expect(against.every(row => row.source.length > 5)).toBe(true)
  })

  test('a count that nothing can explain is refused with the reason', () => {
    expect(() => calibrate({}, 0)).toThrow('openings must be a finite number above 0, got 0')
    expect(() => calibrate({}, 1e6)).toThrow('mAh of capacity would be gone before, got 1000000')
    expect(() => calibrate({ resetVolts: 2.51 }, 5)).toThrow('already falls under 2.51 V')
    expect(() => calibrate({}, 300, { solve: 'resistance' })).toThrow('rested volts are still over the reset')
    expect(() => calibrate({ cell: 'CR123A' }, 20)).toThrow('which has no ageing')
  })
})
