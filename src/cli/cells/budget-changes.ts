import { DEFAULTS } from '../../budget/circuit/sender.ts'
import type { BudgetSender, Reservoir } from '../../budget/types.ts'
import { DAYS_IN_YEAR } from '../../text/time.ts'
import type { Given } from '../program/command.ts'
import { EXIT, Stop } from '../world.ts'
import type * as commands from './commands.ts'

type Options = Given<typeof commands.budget>['options']
export type Changes = (sender: BudgetSender) => BudgetSender

/**
 * What the options change; undefined when they change nothing.
 * @throws Stop exit 2 for options that do not go together
 */
export function changesOf(options: Options): Changes | undefined {
  const { openMinutes: minutesADay, openings } = options
  if (minutesADay !== undefined && openings === 0)
    throw new Stop(EXIT.usage, '--open-minutes goes with openings: with --openings 0 it never stands open')
  const plain = {
    load: options.load,
    cell: options.cell,
    reservoir: reservoirOf(options),
    lampMilliamps: options.lamp === undefined ? undefined : options.lamp * 1000,
    openingsPerYear: openings,
    resetVolts: options.reset,
    temperatureCelsius: options.temperature,
  }
  const given = Object.entries(plain).filter(([, value]) => value !== undefined)
  if (!given.length && minutesADay === undefined) return undefined
  return sender => {
    const steady = options.temperature === undefined ? {} : { seasonCelsius: undefined, fittedAt: undefined }
    const changed: BudgetSender = { ...sender, ...steady, ...Object.fromEntries(given) }
    if (minutesADay === undefined) return changed
    const openingsPerYear = changed.openingsPerYear ?? DEFAULTS.openingsPerYear
    return { ...changed, openMinutes: (minutesADay * DAYS_IN_YEAR) / openingsPerYear }
  }
}

function reservoirOf({ reservoir: farads, place, reservoirOhms: ohms, bleed: bleedOhms }: Options) {
  if (farads === undefined && (place ?? ohms ?? bleedOhms) !== undefined)
    throw new Stop(EXIT.usage, '--place, --reservoir-ohms and --bleed go with --reservoir')
  const reservoir: Reservoir | undefined =
    farads === undefined ? undefined : { farads, place: place ?? 'before-reed', ohms, bleedOhms }
  return reservoir
}
