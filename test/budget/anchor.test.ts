import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { cellNamed } from '../../src/budget/circuit/cells.ts'
import { eventBudget } from '../../src/budget/circuit/event-budget.ts'
import type { BudgetSender, LoadPhase } from '../../src/budget/types.ts'

const median = (sender: BudgetSender): number => eventBudget(sender).openings.p50
const ohmsOf = (sender: BudgetSender): number =>
  eventBudget(sender).restsOn.find(({ name }) => name === 'effective resistance')!.value

/** Common practice, no source: about 20 cold joins of about 4 s out of a CR2032. */
describe('a known count', () => {
  test('stands under another reset: the resistance is set anew', () => {
    for (const resetVolts of [2.2, 2.4, 2.51, 2.8]) {
      expect(median({ resetVolts })).toBeCloseTo(20, 6)
      // by hand: 3.2 V less 20 x 83.3 uAh x 0.12 V per mAh are 3.0 V; what is left falls over 75 mA
      expect(ohmsOf({ resetVolts })).toBeCloseTo(Math.min(10.7, (3 - resetVolts) / 0.075), 9)
    }
    expect(
      eventBudget({ resetVolts: 2.51 })
        .restsOn.map(({ source }) => source)
        .join(),
    ).toContain('20 sends of 4.0 s stand')
  })

  test('stands under phases of your own, with bursts of what datasheets give', () => {
    // ESP32-C3 Series Datasheet v2.4, Tables 5-7 and 5-8: receive 84 to 87 mA, transmit 335 mA at most.
    const measured: LoadPhase[] = [
      { milliamps: 28, milliseconds: 300 },
      { milliamps: 85, milliseconds: 3700, burst: { milliamps: 335, milliseconds: 2, everyMilliseconds: 100 } },
    ]
    const budget = eventBudget({ load: measured })
    expect(budget.openings.p50).toBeCloseTo(20, 6)
    expect(budget.burstsRefuted).toBeUndefined()
    const quick = measured.map(phase => ({ ...phase, milliseconds: phase.milliseconds / 4 }))
    expect(median({ load: quick }) / 80).toBeCloseTo(1, 1)
  })

  test('never makes the resistance more than a short-circuit current allows (PSG90906, Table I: 10.7 ohm)', () => {
    expect(ohmsOf({ load: [{ milliamps: 20, milliseconds: 4000 }] })).toBeCloseTo(10.7, 9)
    expect(eventBudget({ load: [{ milliamps: 20, milliseconds: 4000 }] }).atLeast).toBe(true)
  })

  test('leaves a model of your own and a cell without a count as they are', () => {
    const { anchor: _, ...own } = cellNamed('CR2032')
    expect(eventBudget({ cell: own, resetVolts: 2.51 }).endedBy).toBe('never-starts')
    expect(
      ohmsOf({ cell: { ...cellNamed('CR2032'), polarisationOhms: 5, polarisationFarads: 1 }, resetVolts: 2.4 }),
    ).toBe(28 / 3)
    expect(median({ cell: 'CR123A', resetVolts: 2.5 })).toBeLessThan(median({ cell: 'CR123A' }))
  })

  test('whatever of 75 mA or more is drawn in 4 s, a new CR2032 gives 20', () => {
    const phases = fc.array(
      fc.record({
        milliamps: fc.double({ min: 75, max: 300, noNaN: true }),
        milliseconds: fc.double({ min: 100, max: 3000, noNaN: true }),
      }),
      { minLength: 1, maxLength: 4 },
    )
    fc.assert(
      fc.property(phases, fc.double({ min: 2.2, max: 2.5, noNaN: true }), (load, resetVolts) => {
        const awake = load.reduce((sum, { milliseconds }) => sum + milliseconds, 0)
        const { openings, atLeast } = eventBudget({ load, resetVolts })
        // A load so heavy that 20 of it leave less than the reset at rest has no resistance that explains it.
        fc.pre(openings.p50 > 0)
        if (!atLeast) expect((openings.p50 * awake) / 4000).toBeCloseTo(20, 3)
      }),
      { numRuns: 200 },
    )
  })
})

describe('bursts that cannot start', () => {
  const load: LoadPhase[] = [
    { milliamps: 60, milliseconds: 4000, burst: { milliamps: 335, milliseconds: 2, everyMilliseconds: 100 } },
  ]
  const { anchor: _, ...cell } = cellNamed('CR2450')

  test('mean that the model is wrong, not that the opening cannot be had', () => {
    const budget = eventBudget({ cell, load })
    expect(budget.burstsRefuted).toBe(true)
    expect(budget.endedBy).toBe('volts')
    // 3.2 V less 335 mA x 28/3 ohm.
    expect(budget.warnings.join()).toContain(
      'the model is wrong here: by it the bursts of this load pull a new CR2450 to 0.07 V',
    )
    const mean = [{ milliamps: (60 * 98 + 335 * 2) / 100, milliseconds: 4000 }]
    expect(budget.openings.p50).toBeCloseTo(median({ cell, load: mean }), 6)
  })

  test('a load whose mean current is too much never starts', () => {
    const heavy = [
      { milliamps: 200, milliseconds: 4000, burst: { milliamps: 335, milliseconds: 2, everyMilliseconds: 100 } },
    ]
    expect(eventBudget({ cell, load: heavy })).toMatchObject({ endedBy: 'never-starts', openings: { p50: 0 } })
    expect(eventBudget({ cell, load: heavy }).burstsRefuted).toBeUndefined()
  })
})

describe('cold', () => {
  test('rests on factors without a source, so it widens the range', () => {
    const cold = eventBudget({ temperatureCelsius: 15 })
    const factor = cold.sensitivity.find(({ name }) => name === 'cold')
    expect(factor?.limits).toContain('no source')
    // 1.5 % a degree, halved and doubled: 9.333 ohm x 1.045 and x 1.18 at 75 mA, against 3.2 V - 2.3 V.
    expect(factor?.better).toBeCloseTo((0.9 - 0.7 * 1.045) / 0.12 / 0.0833333, 3)
    expect(factor?.worse).toBeCloseTo((0.9 - 0.7 * 1.18) / 0.12 / 0.0833333, 3)
    expect(eventBudget({}).sensitivity.map(({ name }) => name)).not.toContain('cold')
    const [wide, warm] = [cold.openings, eventBudget({}).openings]
    expect(wide.p95 / wide.p50).toBeGreaterThan(1.05 * (warm.p95 / warm.p50))
    expect(wide.p05 / wide.p50).toBeLessThan(0.95 * (warm.p05 / warm.p50))
  })
})
