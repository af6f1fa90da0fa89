import { TEMPERATURE } from '../../budget/circuit/ageing.ts'
import { CELLS } from '../../budget/circuit/cells.ts'
import { DEFAULTS } from '../../budget/circuit/sender.ts'
import type { BudgetSender, Reservoir } from '../../budget/types.ts'
import { shown } from '../../text/problems.ts'
import { DAYS_IN_YEAR } from '../../text/time.ts'
import { plainNumber, quantity } from '../shared/quantity.ts'
import { EXIT, type Given, Stop } from '../world.ts'

function cellName(given: string): string {
  const found = CELLS.find(cell => cell.name.toLowerCase() === given.trim().toLowerCase())
  if (found) return found.name
  throw new Stop(EXIT.usage, `--cell wants one of ${CELLS.map(cell => cell.name).join(', ')}; found ${shown(given)}`)
}

function upTo(value: number, most: number, unit: string, option: string): number {
  if (value <= most) return value
  throw new Stop(EXIT.usage, `${option} takes at most ${most} ${unit}; found ${value}`)
}

function from(least: number, value: number, unit: string, option: string): number {
  if (value >= least) return value
  throw new Stop(EXIT.usage, `${option} takes at least ${least} ${unit}; found ${value}`)
}

/** Openings that a person's own cells gave, by `--calibrate`. */
export const countOf = ({ calibrate: given }: Given['options']): number | undefined =>
  typeof given === 'string' ? from(1, plainNumber(given, '--calibrate'), 'opening', '--calibrate') : undefined

export type Changes = (sender: BudgetSender) => BudgetSender

/** What the options change; undefined when they change nothing. */
export function changesOf(options: Given['options']): Changes | undefined {
  const text = (key: string): string | undefined => (typeof options[key] === 'string' ? options[key] : undefined)
  const read = <T>(key: string, make: (given: string) => T): T | undefined => {
    const given = text(key)
    return given === undefined ? undefined : make(given)
  }
  const farads = read('reservoir', given =>
    from(1e-9, upTo(quantity(given, 'F', '--reservoir'), 1000, 'F', '--reservoir'), 'F', '--reservoir'),
  )
  const place = text('place') as Reservoir['place'] | undefined
  const resistance = (option: string) => (given: string) => upTo(quantity(given, 'ohm', option, 1), 1e9, 'ohm', option)
  const ohms = read('reservoirOhms', resistance('--reservoir-ohms'))
  const bleedOhms = read('bleed', given => from(1, resistance('--bleed')(given), 'ohm', '--bleed'))
  if (farads === undefined && (place ?? ohms ?? bleedOhms) !== undefined) {
    throw new Stop(EXIT.usage, '--place, --reservoir-ohms and --bleed go with --reservoir')
  }
  const reservoir: Reservoir | undefined =
    farads === undefined ? undefined : { farads, place: place ?? 'before-reed', ohms, bleedOhms }
  const minutesADay = read('openMinutes', given =>
    upTo(plainNumber(given, '--open-minutes'), 1440, 'minutes, a whole day', '--open-minutes'),
  )
  const rate = read('openings', given => {
    const aYear = upTo(plainNumber(given, '--openings'), 1e6, 'a year', '--openings')
    return aYear === 0 ? 0 : from(0.01, aYear, 'a year, or 0', '--openings')
  })
  if (minutesADay !== undefined && rate === 0)
    throw new Stop(EXIT.usage, '--open-minutes goes with openings: with --openings 0 it never stands open')
  const plain = {
    load: text('load'),
    cell: read('cell', cellName),
    reservoir,
    lampMilliamps: read('lamp', given => upTo(quantity(given, 'A', '--lamp', 1e-3), 10, 'A', '--lamp') * 1000),
    openingsPerYear: rate,
    resetVolts: read('reset', given =>
      from(0.1, upTo(quantity(given, 'V', '--reset', 1), 10, 'V', '--reset'), 'V', '--reset'),
    ),
    temperatureCelsius: read('temperature', given => {
      const { lowest, highest } = TEMPERATURE
      return upTo(plainNumber(given, '--temperature', lowest), highest, 'degrees Celsius', '--temperature')
    }),
  }
  const given = Object.entries(plain).filter(([, value]) => value !== undefined)
  if (!given.length && minutesADay === undefined) return undefined
  return sender => {
    const changed: BudgetSender = { ...sender, ...Object.fromEntries(given) }
    if (minutesADay === undefined) return changed
    const openingsPerYear = changed.openingsPerYear ?? DEFAULTS.openingsPerYear
    return { ...changed, openMinutes: (minutesADay * DAYS_IN_YEAR) / openingsPerYear }
  }
}
