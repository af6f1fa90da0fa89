import { describe, expect, test } from 'vitest'
import { calibrate, cellLike } from '../../src/budget/circuit/calibrate.ts'
import { eventBudget } from '../../src/budget/circuit/event-budget.ts'
import { newCell } from '../../src/budget/circuit/new-cell.ts'

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
      expect(newCell({ ...sender, cell }).life.openings, solve).toBeCloseTo(count, 6)
    }
  })

  test('a count beyond the common one is known by the cells that gave it, and nothing beyond it is', () => {
    const { cell, endRestedVolts } = calibrate({}, 40, { solve: 'resistance' })
    expect(endRestedVolts).toBeCloseTo(2.8, 9)
    const same = eventBudget({ cell })
    expect(same.atLeast).toBe(false)
    expect(same.openings.p50).toBeCloseTo(40, 6)
    const gentler = eventBudget({ cell, load: [{ milliamps: 30, milliseconds: 170 }] })
    expect(gentler).toMatchObject({ atLeast: true })
    expect(gentler.volts.endRested).toBeCloseTo(2.8, 9)
    expect(gentler.warnings.join()).toContain('below 2.80 V rested')
    const gentle = { load: [{ milliamps: 40, milliseconds: 4000 }] }
    const counted = eventBudget({ ...gentle, cell: calibrate(gentle, 100).cell })
    expect(counted.atLeast).toBe(false)
    expect(counted.openings.p50).toBeCloseTo(100, 6)
  })

  test('another coin cell ages as the count of the calibrated one says, and that is no common practice', () => {
    const big = calibrate({ cell: 'CR2450' }, 92)
    const small = cellLike(big.cell, 'CR2032')
    // Twice the 20 x 550 / 235 openings of before, but for rounding 92 / 46.81 of them.
    expect(small.ageing).toMatchObject({ status: 'assumption', source: expect.stringContaining('your own count') })
    expect(small.ageing?.value).toBeCloseTo((0.12 * ((20 * 550) / 235)) / 92, 9)
    expect(cellLike(big.cell, 'CR2450')).toBe(big.cell)
    expect(cellLike(big.cell, 'CR123A').ageing).toBeUndefined()
  })

  test('what a count says of the resistance holds for other coin cells too', () => {
    const { cell, effectiveOhms } = calibrate({}, 12, { solve: 'resistance' })
    // 3.2 V less 12 x 83.3 uAh x 0.12 V per mAh, less 2.3 V, through 75 mA.
    expect(effectiveOhms).toBeCloseTo((3.2 - 0.12 - 2.3) / 0.075, 6)
    expect(cellLike(cell, 'CR2450').seriesOhms.value).toBe(effectiveOhms)
    expect(eventBudget({ cell, resetVolts: 2.4 }).openings.p50).toBeCloseTo(12, 6)
    expect(eventBudget({ cell, load: 'cached-join' }).openings.p50).toBeCloseTo((12 * 4) / 1.26, 6)
  })

  test('says where the assumptions stand against published figures', () => {
    const { against } = calibrate({}, 20)
    const by = (text: string) => against.find(row => row.published.startsWith(text))
    expect(by('at most 10.7')).toMatchObject({ agrees: true, here: '9.33 ohm' })
    expect(by('18 to 30')).toMatchObject({ agrees: false })
    expect(by('60.5 to 87 mA')).toMatchObject({ agrees: true, here: '75 mA' })
    expect(by('272 to 335')).toMatchObject({ agrees: false })
    expect(by('the default level')).toMatchObject({
      agrees: false,
      here: '0.0',
      what: expect.stringContaining('this resistance'),
    })
    expect(against.every(row => row.source.length > 5)).toBe(true)
  })

  test('a count that nothing can explain is refused with the reason', () => {
    expect(() => calibrate({}, 0)).toThrow('openings must be a finite number above 0, got 0')
    expect(() => calibrate({}, 1e6)).toThrow('mAh of capacity would be gone before, got 1000000')
    expect(() => calibrate({ resetVolts: 3.1 }, 5)).toThrow('already falls under 3.1 V')
    expect(() => calibrate({}, 300, { solve: 'resistance' })).toThrow('rested volts are still over the reset')
    expect(() => calibrate({ cell: 'CR123A' }, 20)).toThrow('which has no ageing')
  })
})
