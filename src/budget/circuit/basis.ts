import type { BudgetSender, Figure, LoadPhase } from '../types.ts'
import { GROWTH_FIGURE, temperatureFactors } from './ageing.ts'
import { REED_CARRIES, REED_OHMS } from './inrush.ts'
import { loadNamed } from './loads.ts'
import { RESERVOIR } from './reservoir.ts'
import { fittedAt } from './season-cold.ts'
import { DEFAULTS, type Ready } from './sender.ts'

const GROWTH_BORROWED: Figure = {
  ...GROWTH_FIGURE,
  status: 'assumption',
  source: 'the shape of the CR2032, scaled by capacity: none of this cell is at hand',
}

const PART = 'a part of this kind; read its sheet'

/** Every figure that a budget rests on, with its status and source. */
export function basisOf(sender: BudgetSender, { cell, reservoir }: Ready): Figure[] {
  const load = sender.load ?? DEFAULTS.load
  const asleep = told('asleep', DEFAULTS.sleepMicroamps, 'uA', sender.sleepMicroamps, '')
  const figures: (Figure | undefined)[] = [
    cell.newVolts,
    cell.ageing,
    cell.seriesOhms,
    cell.capacityMilliampHours,
    cell.ageing && (cell.name === DEFAULTS.cell ? GROWTH_FIGURE : GROWTH_BORROWED),
    cell.voltsByDepth?.source,
    cell.selfDischargePerYear,
    told(
      'reset',
      DEFAULTS.resetVolts,
      'V',
      sender.resetVolts,
      'between brown-out levels of 2.1 V (TI SWRS206E, s. 8.7) and 2.51 V (ESP-IDF Kconfig.power, default)',
    ),
    ...(typeof load === 'string' ? loadNamed(load).figures : load.flatMap(asGiven)),
    sender.sleepMicroamps === undefined
      ? {
          ...asleep,
          status: 'published',
          source: 'ESP32-C3 Series Datasheet v2.4, Tables 5-8 and 5-9: deep sleep, the chip alone',
        }
      : asleep,
    told('open', DEFAULTS.openMinutes, 'minutes an opening', sender.openMinutes, 'no better guess was given'),
    told('rate', DEFAULTS.openingsPerYear, 'openings a year', sender.openingsPerYear, 'no better guess was given'),
    ...temperaturesOf(sender),
  ]
  for (const [name, value, unit] of [
    ['sends an opening', sender.sendsPerOpening === 1 ? 0 : sender.sendsPerOpening, 'sends'],
    ['lamp while open', sender.lampMilliamps, 'mA'],
    ['fitted before the first opening', sender.idleYears, 'years'],
    ['polarisation resistance', cell.polarisationOhms, 'ohm'],
    ['polarisation capacitance', cell.polarisationFarads, 'F'],
    ['bleed across the reservoir', sender.reservoir?.bleedOhms, 'ohm'],
    ['reservoir', sender.reservoir?.farads, 'F'],
  ] as const) {
    if (value) figures.push({ name, value, unit, status: 'assumption', source: 'as given' })
  }
  if (reservoir) {
    const { ohms, leakMicroamps, startVolts } = sender.reservoir ?? {}
    figures.push(
      told('reservoir resistance', RESERVOIR.ohms, 'ohm', ohms, PART),
      told('reservoir leak', RESERVOIR.leakMicroamps, 'uA', leakMicroamps, PART),
    )
    if (reservoir.place === 'after-reed') {
      figures.push(told('module starts at', RESERVOIR.startVolts, 'V', startVolts, 'no source'))
    }
  }
  figures.push(REED_OHMS, REED_CARRIES)
  return figures.filter(figure => figure !== undefined)
}

/** One temperature, or those of a year with the day on which the cell is taken to be fitted. */
function temperaturesOf(sender: BudgetSender): Figure[] {
  const { temperatureCelsius = DEFAULTS.temperatureCelsius, seasonCelsius: season } = sender
  const one = (name: string, celsius: number): Figure => {
    const cold = temperatureFactors(celsius)
    const source = `resistance x${cold.ohms.toFixed(2)} (1.5 % a degree below 21 C), capacity x${cold.capacity.toFixed(2)} (0.4 % a degree): our own factors, no source`
    return { name, value: celsius, unit: 'C', status: 'assumption', source }
  }
  if (!season) return [one('temperature', temperatureCelsius)]
  return [
    one('temperature in January', season.january),
    one('temperature in July', season.july),
    {
      name: 'month in which the cell is fitted',
      value: new Date(fittedAt(sender)).getUTCMonth() + 1,
      unit: 'of 12',
      status: 'assumption',
      source: 'a cosine of the year between the two temperatures, openings spread evenly over the year: no source',
    },
  ]
}

const told = (name: string, fallback: number, unit: string, given: number | undefined, source: string): Figure => ({
  name,
  value: given ?? fallback,
  unit,
  status: 'assumption',
  source: given === undefined ? source : 'as given',
})

/** What a person's own phases draw; their burst too. */
const asGiven = ({ name = 'awake', milliamps, milliseconds, burst }: LoadPhase): Figure[] => {
  const given = { status: 'assumption', source: 'as given' } as const
  return [
    { name: `${name}, ${milliseconds} ms`, value: milliamps, unit: 'mA', ...given },
    ...(burst
      ? [
          {
            name: `${name}, ${burst.milliseconds} ms in ${burst.everyMilliseconds}`,
            value: burst.milliamps,
            unit: 'mA',
            ...given,
          },
        ]
      : []),
  ]
}
