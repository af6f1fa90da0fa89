import { describe, expect, test } from 'vitest'
import { cellNamed } from '../../src/budget/circuit/cells.ts'
import { eventBudget } from '../../src/budget/circuit/event-budget.ts'
import { preferredOhms } from '../../src/budget/circuit/inrush.ts'
import type { BudgetSender, Reservoir } from '../../src/budget/types.ts'
import { needs } from '../support/missing.ts'
import { measuredBy } from './ngspice.ts'

const beforeReed = (more: Partial<Reservoir> = {}): Reservoir => ({ farads: 0.047, place: 'before-reed', ...more })
const afterReed = (more: Partial<Reservoir> = {}): Reservoir => ({ farads: 0.047, place: 'after-reed', ...more })
const partOf = (sender: BudgetSender, name: string): number =>
  eventBudget(sender).parts.find(part => part.name === name)?.milliampHours ?? 0

describe('a bleed', () => {
  test('before the reed flows all the year: 1 kohm empties the cell in three days, whether it is opened or not', () => {
    const bled = eventBudget({ reservoir: beforeReed({ bleedOhms: 1000 }) })
    // 3.2 V through 1000 + 9.33 ohm, 5 uA of sleep and 5 uA of leak, out of 235 mAh less 47 mF x 3.2 V of filling.
    const milliamps = 3200 / (1000 + 28 / 3) + 0.01
    expect(bled.openHoursToEmpty).toBeCloseTo((235 - (0.047 * 3.2) / 3.6) / milliamps, 6)
    expect(bled.openHoursToEmpty / 24).toBeCloseTo(3.1, 1)
    expect(bled.warnings.join()).toMatch(/day and night: it empties a new cell in 3\.1 days/)
    // 120 openings a year are one in three days: the second finds the cell all but empty.
    expect(bled.openings.p50).toBeGreaterThan(1)
    expect(bled.openings.p50).toBeLessThan(2.1)
    expect(eventBudget({ reservoir: beforeReed({ bleedOhms: 1000 }), idleYears: 0.1 }).openings.p50).toBe(0)
    expect(eventBudget({ reservoir: beforeReed() }).warnings.join()).not.toMatch(/day and night/)
  })

  test('after the reed flows only while the window is open', () => {
    const sender = { reservoir: afterReed({ bleedOhms: 1000 }), openMinutes: 30 }
    const { openings, volts } = eventBudget(sender)
    // Ohm's law with the rested volts half way between a new cell and the end.
    const mean = (3.2 + volts.endRested) / 2 / (1000 + 28 / 3)
    expect(partOf(sender, 'reservoir bleed') / ((openings.p50 - 1) * 0.5 * mean * 1000)).toBeCloseTo(1, 2)
    expect(eventBudget(sender).warnings.join()).not.toMatch(/day and night/)
  })

  test('is a resistor: it takes the less the lower the volts are', () => {
    // A divider by hand: 3.2 V less 75 mA x 28/3 ohm at the source, 28/3 ohm against 20 ohm; the load starts settled.
    const slow = { reservoir: afterReed({ farads: 1e-6, ohms: 0, bleedOhms: 20, startVolts: 2 }), resetVolts: 1.5 }
    const { anchor: _, ...cell } = cellNamed('CR2032')
    const byHand = ((3.2 - (0.075 * 28) / 3) * 20) / (20 + 28 / 3)
    expect(eventBudget({ ...slow, cell }).volts.newMinimum).toBeCloseTo(byHand, 4)
  })
})

describe('filling a reservoir', () => {
  test('before the reed costs its charge once, drawn hard', () => {
    expect(partOf({ reservoir: beforeReed() }, 'filling the reservoir')).toBeCloseTo((0.047 * 3.2) / 3.6, 9)
    // 0.12 V per mAh: 47 mF cost half an opening of 83.3 uAh. Four seconds of load outlast what it holds.
    expect(eventBudget({ reservoir: beforeReed() }).openings.p50).toBeCloseTo(
      20 - (0.047 * 3.2 * 1000) / 3.6 / 83.333,
      1,
    )
    const big = eventBudget({ reservoir: beforeReed({ farads: 3 }) })
    expect(big.openings.p50).toBe(0)
    expect(big.parts.find(part => part.name === 'filling the reservoir')?.milliampHours).toBeCloseTo((3 * 3.2) / 3.6, 9)
  })
})

describe('inrush through the reed', () => {
  const spice = needs('ngspice')
  /** Peak of the current through a closing reed: cell, reservoir before the reed, leads, the module's 22 uF. */
  const simulated = (cellOhms: number, reservoir: string[], henries: number): number =>
    measuredBy([
      '* a reed closes',
      'Vcell a 0 3.2',
      `Rs a n ${cellOhms}`,
      ...reservoir,
      'Rreed n x 0.1',
      `Llead x m ${henries} ic=0`,
      'Cm m 0 22u ic=0',
      '.control',
      'tran 5n 200u 0 5n uic',
      'meas tran peak MAX i(Llead)',
      'quit',
      '.endc',
    ]).get('peak')!

  test.skipIf(spice.skip)(
    spice.title('is what ngspice finds without leads, and above what it finds with 0.2 uH of them'),
    () => {
      const full = ['Rr n r 0.5', 'Cr r 0 47m ic=3.2']
      const cases: [BudgetSender, number, string[]][] = [
        [{ reservoir: beforeReed() }, 28 / 3, full],
        [{}, 28 / 3, []],
        [{ cell: 'CR123A' }, 0.6, []],
        [{ reservoir: afterReed() }, 28 / 3, []],
      ]
      for (const [sender, cellOhms, reservoir] of cases) {
        const { amps } = eventBudget(sender).inrush
        const bare = simulated(cellOhms, reservoir, 1e-9)
        expect(bare / amps, JSON.stringify(sender)).toBeGreaterThan(0.97)
        expect(bare / amps).toBeLessThan(1.001)
        expect(simulated(cellOhms, reservoir, 0.2e-6)).toBeLessThan(amps)
      }
      expect(Math.abs(simulated(28 / 3, full, 0.2e-6) - 5.0)).toBeLessThan(0.2)
    },
    60_000,
  )

  test('by hand: 3.2 V over 0.5 ohm beside 9.33 ohm, and the reed', () => {
    const beside = 1 / (1 / 0.5 + 3 / 28)
    expect(eventBudget({ reservoir: beforeReed() }).inrush.amps).toBeCloseTo(3.2 / (beside + 0.1), 9)
    expect(eventBudget({}).inrush).toEqual({ amps: expect.closeTo(0.34, 2) })
  })

  test('above what the reed carries is warned of, with the resistor that tames it and what that costs', () => {
    const reservoir = beforeReed()
    const { inrush, warnings } = eventBudget({ load: 'cached-join', reservoir })
    expect(inrush.resistor).toMatchObject({ place: 'with-reservoir', ohms: 22 })
    const tamed = eventBudget({ load: 'cached-join', reservoir: { ...reservoir, ohms: 22.5 } })
    expect(tamed.inrush.amps).toBeLessThanOrEqual(0.5)
    expect(tamed.inrush.resistor).toBeUndefined()
    expect(inrush.resistor?.openings).toBeCloseTo(tamed.openings.p50, 9)
    expect(eventBudget({ load: 'cached-join', reservoir: beforeReed({ ohms: 18 }) }).inrush.resistor).toBeDefined()
    expect(warnings.join()).toMatch(/5\.6 A .*above the 0\.5 A .*22 ohm in series with the reservoir/)
  })

  test('where the cell alone gives too much the resistor is in the reed’s own path, and its drop counts', () => {
    const { inrush, volts } = eventBudget({ cell: 'CR123A' })
    expect(inrush.resistor).toMatchObject({ place: 'with-reed', ohms: 6.8 })
    const drop = eventBudget({ cell: 'CR123A', resetVolts: volts.reset + 6.8 * 0.075 })
    expect(inrush.resistor?.openings).toBeCloseTo(drop.openings.p50, 6)
  })

  test('resistors are preferred values (E12 of IEC 60063, from memory)', () => {
    expect([18.9, 5.7, 10, 0.101, 8.3, 83].map(preferredOhms)).toEqual([22, 6.8, 10, 0.12, 10, 100])
  })
})
