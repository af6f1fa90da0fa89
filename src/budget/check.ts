import { must } from './must.ts'
import type { CellCircuit, LoadPhase, ReservoirCircuit } from './types.ts'

/** Bursts of one phase above this are a slip of units, not a load. */
const MOST_BURSTS = 1_000_000

export const atLeastZero = (name: string, value: number): void =>
  must(Number.isFinite(value) && value >= 0, name, value, 'a finite number, 0 or more')
export const aboveZero = (name: string, value: number): void =>
  must(Number.isFinite(value) && value > 0, name, value, 'a finite number above 0')

/** A picofarad is less than any lead has; with far less the closed form loses its digits. */
export const someFarads = (name: string, value: number): void =>
  must(value === 0 || (value >= 1e-12 && value < Infinity), name, value, 'finite, and 0 or at least 1e-12')

/** Before fields are read: null is no object. */
export const mustBeObject = (name: string, value: unknown, rule: string): void =>
  must(typeof value === 'object' && value !== null, name, value, rule)

export function checkCell(cell: CellCircuit): void {
  mustBeObject('cell', cell, 'an object with restedVolts and seriesOhms')
  atLeastZero('cell.restedVolts', cell.restedVolts)
  aboveZero('cell.seriesOhms', cell.seriesOhms)
  atLeastZero('cell.polarisationOhms', cell.polarisationOhms)
  someFarads('cell.polarisationFarads', cell.polarisationFarads)
}

export function checkReservoir(reservoir: ReservoirCircuit): void {
  mustBeObject('options.reservoir', reservoir, 'an object with farads, ohms and volts')
  atLeastZero('options.reservoir.bleedOhms', reservoir.bleedOhms ?? 0)
  someFarads('options.reservoir.farads', reservoir.farads)
  atLeastZero('options.reservoir.ohms', reservoir.ohms)
  must(Number.isFinite(reservoir.volts), 'options.reservoir.volts', reservoir.volts, 'a finite number')
}

export function checkLoad(load: readonly LoadPhase[]): void {
  must(Array.isArray(load) && load.length > 0, 'load', load, 'a list of at least one phase')
  load.forEach((phase, index) => {
    const at = `load[${index}]`
    mustBeObject(at, phase, 'a phase with milliamps and milliseconds')
    atLeastZero(`${at}.milliamps`, phase.milliamps)
    aboveZero(`${at}.milliseconds`, phase.milliseconds)
    const burst = phase.burst
    if (burst === undefined) return
    mustBeObject(`${at}.burst`, burst, 'a burst with milliamps, milliseconds and everyMilliseconds')
    atLeastZero(`${at}.burst.milliamps`, burst.milliamps)
    aboveZero(`${at}.burst.milliseconds`, burst.milliseconds)
    aboveZero(`${at}.burst.everyMilliseconds`, burst.everyMilliseconds)
    must(
      burst.milliseconds <= burst.everyMilliseconds,
      `${at}.burst.milliseconds`,
      burst.milliseconds,
      `at most everyMilliseconds (${burst.everyMilliseconds})`,
    )
    must(
      phase.milliseconds / burst.everyMilliseconds <= MOST_BURSTS,
      `${at}.burst.everyMilliseconds`,
      burst.everyMilliseconds,
      `at least a ${MOST_BURSTS}th of the phase`,
    )
  })
}
