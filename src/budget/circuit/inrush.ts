import type { Figure, Inrush } from '../types.ts'
import { peakMilliamps } from './anchor.ts'
import { lifeOf, NOMINAL } from './life.ts'
import type { Ready } from './sender.ts'

/** Resistance of the closed reed. */
export const REED_OHMS: Figure = {
  name: 'closed reed',
  value: 0.1,
  unit: 'ohm',
  status: 'assumption',
  source: 'contact resistance of a small reed; read its sheet',
}
export const REED_CARRIES: Figure = {
  name: 'reed carries',
  value: 0.5,
  unit: 'A',
  status: 'assumption',
  source:
    'carry current of a small reed; a capacitive inrush above it can weld the contact (reed makers’ application notes); read its sheet',
}

/** Preferred values of a decade, E12 of IEC 60063 (from memory). */
const E12 = [1, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2, 10] as const

/** The next preferred value that is no smaller. */
export function preferredOhms(least: number): number {
  const decade = 10 ** Math.floor(Math.log10(least))
  const step = E12.find(value => value * decade >= least * (1 - 1e-9)) ?? 10
  return Number((step * decade).toPrecision(3))
}

/**
 * Current through the reed as it closes on the module's empty input capacitor, and on a reservoir behind it: volts over
 * the series resistances. Leads have inductance, so that a simulated peak is lower.
 *
 * A reservoir before the reed is in parallel with the cell and gives the most. There a resistor in series with the
 * reservoir tames it and leaves the cell's own path alone; where the cell alone gives too much the resistor must lie
 * in series with the reed, and its drop under load counts.
 */
export function inrushOf(ready: Ready): Inrush {
  const volts = ready.cell.newVolts.value
  const cellOhms = ready.namedOhms
  const part = ready.reservoir?.place === 'before-reed' ? ready.reservoir : undefined
  const ohmsWith = (reservoirOhms: number): number => (cellOhms * reservoirOhms) / (cellOhms + reservoirOhms)
  const source = part ? ohmsWith(part.ohms) : cellOhms
  const amps = volts / (source + REED_OHMS.value)
  if (amps <= REED_CARRIES.value) return { amps }
  const wanted = volts / REED_CARRIES.value - REED_OHMS.value
  if (part && cellOhms > wanted) {
    const ohms = preferredOhms((wanted * cellOhms) / (cellOhms - wanted) - part.ohms)
    const tamed = { ...ready, reservoir: { ...part, ohms: part.ohms + ohms } }
    const resistor = { ohms, place: 'with-reservoir', openings: lifeOf(tamed, NOMINAL, true).openings } as const
    return { amps, resistor }
  }
  const ohms = preferredOhms(wanted - source)
  const drop = (ohms * (peakMilliamps(ready.load) + ready.lampMilliamps)) / 1000
  const openings = lifeOf({ ...ready, resetVolts: ready.resetVolts + drop }, NOMINAL, true).openings
  return { amps, resistor: { ohms, place: 'with-reed', openings } }
}
