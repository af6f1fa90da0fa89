import type { BudgetSender } from '../../budget/types.ts'
import { budgetOf } from '../../house/model.ts'
import type { Opening, Register } from '../../register/types.ts'
import { shown } from '../../text/problems.ts'
import { iso } from '../../text/time.ts'
import { EXIT, Stop } from '../world.ts'

/** The middle of what at least half of the openings say; one opening alone does not speak for its kind. */
function middle(values: readonly (number | undefined)[]): number | undefined {
  const given = values.filter(value => value !== undefined).sort((a, b) => a - b)
  return given.length * 2 < values.length ? undefined : given[Math.floor((given.length - 1) / 2)]
}

/**
 * The kind of contact that was asked for, and how many openings use it; settings are the middle of what most of them say.
 * @param now - when a cell is fitted, milliseconds since the epoch
 * @param asked - may be left out where only one kind runs on a cell
 * @throws Stop exit 2 when it must be named, exit 1 when the register has none of that name on a cell
 */
export function senderOf(
  register: Register,
  asked: string | undefined,
  now: number,
): { name: string; sender: BudgetSender; used: number } {
  const onCells = Object.values(register.senders).filter(sender => sender.power === 'cell')
  const names = onCells.map(sender => sender.name)
  const only = names.length === 1 ? names[0] : undefined
  const name = asked ?? only
  if (name === undefined) {
    const list = names.length
      ? `one of ${names.map(shown).join(', ')}`
      : 'a sender with a cell, and this register has none'
    throw new Stop(names.length ? EXIT.usage : EXIT.input, `--sender wants ${list}`)
  }
  const found = onCells.find(sender => sender.name === name)
  if (!found) {
    const mains = Object.hasOwn(register.senders, name)
      ? 'it is on mains: no cell, no budget'
      : 'the register has no such sender'
    throw new Stop(EXIT.input, `--sender ${shown(name)}: ${mains}; on a cell: ${names.map(shown).join(', ') || 'none'}`)
  }
  const openings = register.openings.filter(opening => opening.sender.name === name)
  const middleOf = (of: (settings: Opening['settings']) => number | undefined): number | undefined =>
    middle(openings.map(({ settings }) => of(settings)))
  const january = middleOf(({ seasonCelsius }) => seasonCelsius?.january)
  const july = middleOf(({ seasonCelsius }) => seasonCelsius?.july)
  const first = openings[0]
  const base: BudgetSender = first
    ? budgetOf(first)
    : { cell: found.cell, load: found.load, ...(found.reports === 'both' ? { sendsPerOpening: 2 } : {}) }
  return {
    name,
    used: openings.length,
    sender: {
      ...base,
      resetVolts: middleOf(settings => settings.resetVolts),
      openMinutes: middleOf(settings => settings.openMinutes),
      openingsPerYear: middleOf(settings => settings.openingsPerYear),
      lampMilliamps: middleOf(settings => settings.lampMilliamps),
      temperatureCelsius: middleOf(settings => settings.temperatureCelsius),
      ...(january === undefined || july === undefined
        ? { seasonCelsius: undefined }
        : { seasonCelsius: { january, july }, fittedAt: iso(now) }),
    },
  }
}
