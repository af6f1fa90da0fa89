import { expect, test } from 'vitest'
import { proofInterval } from '../../src/budget/advice/proof-interval.ts'
import { slowJoin } from '../../src/budget/advice/slow-join.ts'
import { calibrate } from '../../src/budget/circuit/calibrate.ts'
import { eventBudget } from '../../src/budget/circuit/event-budget.ts'
import { simulateOpening } from '../../src/budget/circuit/simulate.ts'
import { fitLifetimes } from '../../src/budget/lives/fit-lifetimes.ts'
import { forecast } from '../../src/budget/lives/forecast.ts'
import { leftByMark } from '../../src/budget/lives/left.ts'

const cell = { restedVolts: 3, seriesOhms: 10, polarisationOhms: 0, polarisationFarads: 0 }
const load = [{ milliamps: 1, milliseconds: 1 }]

/** Plain JavaScript hands null over where TypeScript would not. */
const nothing = null as never

test.each<[string, () => unknown]>([
  ['a sender', () => eventBudget(nothing)],
  ['a cell', () => eventBudget({ cell: nothing })],
  ['a load', () => eventBudget({ load: nothing })],
  ['a reservoir', () => eventBudget({ reservoir: nothing })],
  ['a phase', () => simulateOpening(cell, [nothing])],
  ['a burst', () => simulateOpening(cell, [{ ...load[0]!, burst: nothing }])],
  ['a circuit', () => simulateOpening(nothing, load)],
  ['options', () => simulateOpening(cell, load, nothing)],
  ['a reservoir of a circuit', () => simulateOpening(cell, load, { reservoir: nothing })],
  ['options of a calibration', () => calibrate({}, 20, nothing)],
  ['lives', () => fitLifetimes(nothing)],
  ['a life', () => fitLifetimes([nothing])],
  ['what a forecast asks', () => forecast(nothing)],
  ['a cell of a house', () => leftByMark([nothing], { now: 0 })],
  ['what a proof asks', () => proofInterval(nothing)],
  ['a first word', () => slowJoin([nothing])],
])('null in the place of %s is a RangeError that shows it', (_, call) => {
  expect(call).toThrow(RangeError)
  expect(call).toThrow(/null/)
})
