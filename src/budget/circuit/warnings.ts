import { HOUR } from '../../text/time.ts'
import type { Inrush } from '../types.ts'
import { knownVoltsOf } from './ageing.ts'
import { SHELF_YEARS } from './cells.ts'
import { REED_CARRIES } from './inrush.ts'
import { type NewCell, wholeOpenings } from './new-cell.ts'
import { HOURS_A_YEAR, type Ready } from './sender.ts'

/** Said where the charge decides, not the volts under load. */
export const CAPACITY_WARNING =
  'its end hangs on the capacity: the range leaves out how far the capacities of single cells differ'

/** Said where the cell is given up for its age before its openings are spent. */
export function shelfWarning(openingsPerYear = 0, openings: number): string | undefined {
  const years = openingsPerYear > 0 ? openings / openingsPerYear : 0
  if (years <= SHELF_YEARS) return undefined
  return `at ${openingsPerYear} openings a year that is ${years.toFixed(0)} years: the shelf life, about ${SHELF_YEARS} years (from memory), ends first`
}

/** A time as a person says it: `90 s`, `12 minutes`, `3.1 days`. */
export function timeText(seconds: number): string {
  if (seconds < 120) return `${Math.round(seconds)} s`
  if (seconds < 7200) return `${Math.round(seconds / 60)} minutes`
  const hours = (seconds * 1000) / HOUR
  if (hours < 48) return `${Math.round(hours)} hours`
  if (hours < 2 * HOURS_A_YEAR) return `${(hours / 24).toFixed(hours < 240 ? 1 : 0)} days`
  return `${(hours / HOURS_A_YEAR).toFixed(0)} years`
}

/** What a number must not hide, each as a sentence for the person. */
export function warningsOf(
  { ready, life, byMonth, refutedVolts, cold }: NewCell,
  { holdUpSeconds, inrush, openHoursToEmpty }: Shown,
): string[] {
  const cell = ready.cell.name
  const all = [
    life.endedBy === 'never-starts' &&
      `${neverStarts(ready, life.newMinimum)}${cold ? '; so say our own factors for the cold, which have no source' : ''}`,
    refutedVolts !== undefined &&
      `the model is wrong here: by it the bursts of this load pull a new ${cell} to ${refutedVolts.toFixed(2)} V and it never starts; the count is that of the mean current instead`,
    life.openings > 0 &&
      byMonth?.includes(0) &&
      'in the coldest months the module does not start, by our own factors for the cold, which have no source',
    life.cut &&
      `nothing is known of this cell below ${knownVoltsOf(ready.cell).toFixed(2)} V rested: the count is a lower bound`,
    ready.cell.newVolts.value > 3.6 &&
      `a new ${cell} rests at ${ready.cell.newVolts.value} V: many modules stand at most 3.6 V`,
    (life.endedBy === 'capacity' || (life.endedBy === 'volts' && ready.cell.voltsByDepth)) && CAPACITY_WARNING,
    shelfWarning(ready.openingsPerYear, life.openings),
    (ready.openingsPerYear ?? 0) * ready.openMinutes > HOURS_A_YEAR * 60 &&
      `${ready.openingsPerYear} openings a year of ${ready.openMinutes} minutes each are more than a year: one of the two is wrong`,
    ready.cell.note,
    bleedsAlways(ready, openHoursToEmpty),
    inrushText(inrush, life.openings),
    (holdUpSeconds ?? 0) >= 1 &&
      `the reservoir keeps the module asleep for up to ${timeText(holdUpSeconds ?? 0)} after the window is shut: a reopening in that time is not sent`,
  ]
  return all.filter(text => typeof text === 'string')
}

interface Shown {
  readonly holdUpSeconds: number | undefined
  readonly inrush: Inrush
  readonly openHoursToEmpty: number
}

function neverStarts({ cell, reservoir, resetVolts }: Ready, newMinimum: number): string {
  if (Number.isNaN(newMinimum))
    return `the module never starts: its volts never reach ${reservoir?.startVolts} V behind the reed`
  return `the module never starts: a new ${cell.name} falls to ${newMinimum.toFixed(2)} V under this load, the reset is at ${resetVolts} V`
}

function bleedsAlways({ reservoir }: Ready, hours: number): string | undefined {
  if (reservoir?.place !== 'before-reed' || reservoir.bleedOhms === 0) return undefined
  return `the bleed of ${reservoir.bleedOhms} ohm is before the reed and flows day and night: it empties a new cell in ${timeText(hours * 3600)}; leave it out, a bleed is for a reservoir behind the reed`
}

function inrushText({ amps, resistor }: Inrush, openings: number): string | undefined {
  if (!resistor) return undefined
  const where = resistor.place === 'with-reservoir' ? 'the reservoir' : 'the reed'
  const [then, without] = [wholeOpenings(resistor.openings), wholeOpenings(openings)]
  const ohms = `a resistor of ${resistor.ohms} ohm in series with ${where}`
  const instead =
    resistor.place === 'with-reservoir' ? 'leave the reservoir out' : 'take a reed that carries it, or a smaller cell'
  const advice =
    then === 0 && without > 0
      ? `${ohms} would tame it, but then the module gets no opening: ${instead}`
      : `${ohms} tames it (${then} ${then === 1 ? 'opening' : 'openings'} then, ${without} without)`
  return `the reed closes on ${amps.toFixed(1)} A (volts over the series resistances; a simulated peak is lower), above the ${REED_CARRIES.value} A that it is taken to carry, and may weld: ${advice}`
}
