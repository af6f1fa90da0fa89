import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { type Piece, rampOf, timeOfRamp } from '../../src/budget/circuit/circuit.ts'
import { simulateOpening, simulateStart } from '../../src/budget/circuit/simulate.ts'
import type { CellCircuit, LoadPhase } from '../../src/budget/types.ts'
import { needs } from '../support/missing.ts'
import { type Case, integrated, randomCases } from './circuits.ts'
import { ngspice } from './ngspice.ts'

const cell: CellCircuit = { restedVolts: 3, seriesOhms: 10, polarisationOhms: 8, polarisationFarads: 0.5 }
const run = ({ cell, load, reservoir }: Case) => simulateOpening(cell, load, { reservoir })

/**
 * Computed with ngspice 39.3 and again with a Runge-Kutta integration:
 * 2.155194 V after 300 ms, 2.709218 V at the end of the 20 mA, 67.707 mC in all.
 */
const worked: Case = {
  cell,
  load: [
    { milliamps: 80, milliseconds: 300 },
    { milliamps: 20, milliseconds: 2000 },
    { milliamps: 0, milliseconds: 90 },
    { milliamps: 0, milliseconds: 1100, burst: { milliamps: 170, milliseconds: 2, everyMilliseconds: 100 } },
  ],
  reservoir: { farads: 470e-6, ohms: 0, volts: 3 },
}

describe('the worked circuit', () => {
  test('has its least volts, when, and its charge as two simulators found them', () => {
    const result = run(worked)
    expect(Math.abs(result.minimumVolts - 2.155194)).toBeLessThan(0.0005)
    expect(result.minimumAtMilliseconds).toBeCloseTo(300, 6)
    expect(Math.abs(result.chargeMillicoulombs / 67.707 - 1)).toBeLessThan(0.001)
    const early = simulateOpening(cell, worked.load.slice(0, 2), { reservoir: worked.reservoir })
    expect(Math.abs(early.endVolts - 2.709218)).toBeLessThan(0.0005)
  })

  test('without the reservoir gives the hand calculation 3 - 0.8 - 0.64 (1 - exp(-0.3 / 4))', () => {
    const byHand = 3 - 0.8 - 0.64 * (1 - Math.exp(-0.3 / 4))
    expect(simulateOpening(cell, worked.load.slice(0, 1)).minimumVolts).toBeCloseTo(byHand, 12)
  })
})

const spice = needs('ngspice')
const cases = [worked, ...randomCases(200, 20_260_301)]

describe('200 seeded circuits and loads, a quarter of them with a bleed', () => {
  test.skipIf(spice.skip)(
    spice.title('agree with ngspice within 2 mV and 0.5 % of the charge'),
    () => {
      const measured = ngspice(cases)
      cases.forEach((one, index) => {
        const ours = run(one)
        const theirs = measured[index] as (typeof measured)[number]
        const where = `case ${index}: ${JSON.stringify(one)}`
        expect(Math.abs(ours.minimumVolts - theirs.minimumVolts), `minimum, ${where}`).toBeLessThan(0.002)
        expect(Math.abs(ours.endVolts - theirs.endVolts), `end, ${where}`).toBeLessThan(0.002)
        const off = Math.abs(ours.chargeMillicoulombs - theirs.chargeMillicoulombs)
        expect(off / theirs.chargeMillicoulombs, `charge, ${where}`).toBeLessThan(0.005)
      })
    },
    60_000,
  )

  test('agree with a general integrator within 10 microvolts', () => {
    let worst = 0
    for (const one of cases) {
      const ours = run(one)
      const theirs = integrated(one)
      worst = Math.max(
        worst,
        Math.abs(ours.minimumVolts - theirs.minimumVolts),
        Math.abs(ours.endVolts - theirs.endVolts),
      )
      expect(Math.abs(ours.chargeMillicoulombs - theirs.chargeMillicoulombs)).toBeLessThan(1e-3)
    }
    expect(worst).toBeLessThan(1e-5)
  })
})

describe('special circuits', () => {
  const load: LoadPhase[] = [
    { milliamps: 90, milliseconds: 40 },
    { milliamps: 5, milliseconds: 900, burst: { milliamps: 200, milliseconds: 3, everyMilliseconds: 50 } },
  ]

  test('as the eigenvalues meet, the result runs on without a jump', () => {
    // The two eigenvalues differ by 2 sqrt(R1 / S) of themselves: from a fifth down to nothing that a double can tell.
    for (const ohms of [0.1, 1e-3, 1e-6, 1e-10, 1e-16, 1e-18]) {
      const near = { ...cell, polarisationOhms: ohms, polarisationFarads: 1e-3 * (1 + 10 / ohms) }
      const reservoir = { farads: 1e-3, ohms: 0, volts: 3 }
      const result = simulateOpening(near, load, { reservoir })
      const plain = simulateOpening({ ...near, polarisationOhms: 0 }, load, { reservoir })
      expect(Math.abs(result.minimumVolts - plain.minimumVolts)).toBeLessThan(0.2 * ohms + 1e-9)
      expect(result.chargeMillicoulombs).toBeCloseTo(plain.chargeMillicoulombs, 1)
    }
  })

  test.each([0, 1e-12, 1e-9, 1e-6, 1e-3, 1])(
    'with a gap of %d between the eigenvalues the time of a ramp is its inverse',
    gap => {
      const piece = { circuit: { slow: -1, fast: -1 - gap } } as Piece
      for (const seconds of [1e-6, 0.01, 0.7, 3]) {
        const found = timeOfRamp(piece, rampOf(piece, seconds))
        expect(Math.abs(found / seconds - 1)).toBeLessThan(1e-9)
      }
    },
  )

  test.each([1e-200, -1, Number.NaN, Number.POSITIVE_INFINITY])(
    'a capacitance of %d F is refused by name and value',
    farads => {
      const message = new RegExp(`polarisationFarads.*${String(farads).replace('+', '\\+')}`)
      expect(() => simulateOpening({ ...cell, polarisationFarads: farads }, load)).toThrow(message)
      expect(() => simulateOpening(cell, load, { reservoir: { farads, ohms: 1, volts: 3 } })).toThrow(
        /options\.reservoir\.farads/,
      )
    },
  )

  test('a minimum inside a piece is found where the derivative is zero', () => {
    // A low reservoir polarises the cell within half a second, then fills over half a minute: one load throughout.
    const turning: Case = {
      cell: { restedVolts: 3, seriesOhms: 5, polarisationOhms: 20, polarisationFarads: 0.01 },
      load: [{ milliamps: 2, milliseconds: 9000 }],
      reservoir: { farads: 1, ohms: 5, volts: 2 },
    }
    const ours = run(turning)
    const inside = ours.minimumAtMilliseconds
    expect(inside).toBeGreaterThan(100)
    expect(inside).toBeLessThan(2000)
    const reference = integrated(turning, 1e-13)
    expect(ours.minimumVolts).toBeCloseTo(reference.minimumVolts, 9)
    expect(Math.abs(inside - reference.minimumAtMilliseconds)).toBeLessThan(0.5)
    expect(ours.endVolts).toBeGreaterThan(ours.minimumVolts + 0.1)
  })

  test('no polarisation, or one without a capacitance, is a plain resistance', () => {
    const plain = simulateOpening({ ...cell, polarisationOhms: 0 }, load)
    expect(plain.minimumVolts).toBeCloseTo(3 - 0.2 * 10, 12)
    const direct = simulateOpening({ ...cell, polarisationFarads: 0 }, load)
    expect(direct.minimumVolts).toBeCloseTo(3 - 0.2 * 18, 12)
  })

  test('a load that the cell cannot deliver gives its negative volts', () => {
    expect(simulateOpening({ ...cell, polarisationOhms: 0 }, [{ milliamps: 500, milliseconds: 1 }]).minimumVolts).toBe(
      -2,
    )
  })

  test('a fast and a slow part together overflow nothing', () => {
    const result = simulateOpening({ ...cell, polarisationFarads: 100 }, [{ milliamps: 20, milliseconds: 3.6e7 }], {
      reservoir: { farads: 1e-9, ohms: 0.001, volts: 0 },
    })
    expect(result.endVolts).toBeCloseTo(3 - 0.02 * 18, 9)
  })

  test('an empty reservoir behind the reed starts the load when the volts first reach the start', () => {
    const reservoir = { farads: 0.047, ohms: 0.5, volts: 0 }
    const plain = { ...cell, polarisationOhms: 0 }
    const result = simulateStart(plain, [{ milliamps: 75, milliseconds: 4000 }], reservoir, 2.6)
    // One time constant: v = 3 - 3 (10 / 10.5) exp(-t / (10.5 x 0.047)), solved for 2.6 V by hand.
    expect(result?.startsAfterMilliseconds).toBeCloseTo(1000 * 10.5 * 0.047 * Math.log((3 * 10) / 10.5 / 0.4), 6)
    expect(result?.minimumVolts).toBeCloseTo(3 - 0.75, 3)
    expect(simulateStart(plain, [{ milliamps: 75, milliseconds: 4000 }], reservoir, 3.01)).toBeUndefined()
    expect(result?.chargeMillicoulombs).toBeCloseTo(300 + 47 * (3 - 0.75), 0)
  })
})

describe('wrong input', () => {
  const good: LoadPhase[] = [{ milliamps: 1, milliseconds: 1 }]
  test.each([
    ['cell.seriesOhms', () => simulateOpening({ ...cell, seriesOhms: 0 }, good), '0'],
    ['cell.restedVolts', () => simulateOpening({ ...cell, restedVolts: Number.NaN }, good), 'NaN'],
    ['cell.polarisationOhms', () => simulateOpening({ ...cell, polarisationOhms: -1 }, good), '-1'],
    ['cell.polarisationFarads', () => simulateOpening({ ...cell, polarisationFarads: -2 }, good), '-2'],
    ['load', () => simulateOpening(cell, []), '\\[\\]'],
    ['load\\[1\\].milliamps', () => simulateOpening(cell, [...good, { milliamps: -3, milliseconds: 1 }]), '-3'],
    ['load\\[0\\].milliseconds', () => simulateOpening(cell, [{ milliamps: 3, milliseconds: 0 }]), '0'],
    [
      'load\\[0\\].burst.milliseconds',
      () =>
        simulateOpening(cell, [
          { milliamps: 3, milliseconds: 9, burst: { milliamps: 1, milliseconds: 5, everyMilliseconds: 4 } },
        ]),
      '5',
    ],
    [
      'options.reservoir.farads',
      () => simulateOpening(cell, good, { reservoir: { farads: -1, ohms: 0, volts: 0 } }),
      '-1',
    ],
    [
      'options.reservoir.ohms',
      () => simulateOpening(cell, good, { reservoir: { farads: 1, ohms: Number.POSITIVE_INFINITY, volts: 0 } }),
      'Infinity',
    ],
  ])('%s is named with its value', (name, call, value) => {
    expect(call).toThrow(RangeError)
    expect(call).toThrow(new RegExp(`^${name} must be .*got ${value}$`))
  })
})

describe('whatever the circuit', () => {
  const cells = fc.record({
    restedVolts: fc.double({ min: 2.5, max: 3.4, noNaN: true }),
    seriesOhms: fc.double({ min: 1, max: 40, noNaN: true }),
    polarisationOhms: fc.oneof(fc.constant(0), fc.double({ min: 0.01, max: 30, noNaN: true })),
    polarisationFarads: fc.double({ min: 0.001, max: 1, noNaN: true }),
  })
  const current = fc.double({ min: 0, max: 200, noNaN: true })
  const time = fc.double({ min: 1, max: 2000, noNaN: true })
  const burst = fc.record({
    milliamps: current,
    milliseconds: fc.double({ min: 1, max: 9, noNaN: true }),
    everyMilliseconds: fc.double({ min: 10, max: 100, noNaN: true }),
  })
  const phases = fc.array(
    fc.record({ milliamps: current, milliseconds: time, burst: fc.option(burst, { nil: undefined }) }),
    {
      minLength: 1,
      maxLength: 5,
    },
  )
  const reservoirs = fc.record({
    farads: fc.double({ min: 1e-5, max: 0.1, noNaN: true }),
    ohms: fc.oneof(fc.constant(0), fc.double({ min: 0.01, max: 10, noNaN: true })),
  })
  const rounding = 1e-9

  test('a higher current never raises the minimum', () => {
    fc.assert(
      fc.property(cells, phases, fc.option(reservoirs), fc.nat(), current, (cell, load, part, which, more) => {
        const reservoir = part ? { ...part, volts: cell.restedVolts } : undefined
        const at = which % load.length
        const harder = load.map((phase, i) => (i === at ? { ...phase, milliamps: phase.milliamps + more } : phase))
        const before = simulateOpening(cell, load, { reservoir }).minimumVolts
        expect(simulateOpening(cell, harder, { reservoir }).minimumVolts).toBeLessThanOrEqual(before + rounding)
      }),
    )
  })

  test('a longer last phase, or a longer phase of a load that only rises, never raises the minimum', () => {
    fc.assert(
      fc.property(cells, phases, fc.option(reservoirs), fc.nat(), time, (cell, load, part, which, more) => {
        const reservoir = part ? { ...part, volts: cell.restedVolts } : undefined
        const least = (phases: readonly LoadPhase[]): number =>
          simulateOpening(cell, phases, { reservoir }).minimumVolts
        const longer = (phases: readonly LoadPhase[], at: number): LoadPhase[] =>
          phases.map((phase, i) => (i === at ? { ...phase, milliseconds: phase.milliseconds + more } : phase))
        expect(least(longer(load, load.length - 1))).toBeLessThanOrEqual(least(load) + rounding)
        const rising = load
          .map(({ milliamps, milliseconds }) => ({ milliamps, milliseconds }))
          .sort((a, b) => a.milliamps - b.milliamps)
        expect(least(longer(rising, which % rising.length))).toBeLessThanOrEqual(least(rising) + rounding)
      }),
    )
  })

  test('a bigger reservoir at rested volts never lowers the minimum', () => {
    fc.assert(
      fc.property(cells, phases, reservoirs, fc.double({ min: 1, max: 50, noNaN: true }), (cell, load, part, times) => {
        const least = (farads: number): number =>
          simulateOpening(cell, load, { reservoir: { ...part, farads, volts: cell.restedVolts } }).minimumVolts
        expect(least(part.farads * times)).toBeGreaterThanOrEqual(least(part.farads) - rounding)
        expect(least(part.farads)).toBeGreaterThanOrEqual(least(0) - rounding)
      }),
    )
  })

  test('the charge is what the load took and what the reservoir kept', () => {
    fc.assert(
      fc.property(cells, phases, (cell, load) => {
        const charge = simulateOpening(cell, load).chargeMillicoulombs
        const settled = simulateOpening(cell, [...load, { milliamps: 0, milliseconds: 1e7 }], {
          reservoir: { farads: 0.01, ohms: 1, volts: cell.restedVolts },
        })
        expect(settled.chargeMillicoulombs).toBeCloseTo(charge, 6)
        expect(settled.endVolts).toBeCloseTo(cell.restedVolts, 9)
      }),
    )
  })
})
