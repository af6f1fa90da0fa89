import { calendar } from '../../emit/standards/calendar.ts'
import { cellsDue } from '../cells/cells-due.ts'
import { ledgerOf } from '../cells/lives.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { readEntries, tallyPlaceOf } from '../store/history.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver, guardInputs } from './emit-deliver.ts'

export async function run({ args, options }: Given<typeof commands.calendar>, world: World): Promise<Exit> {
  const { out, check } = options
  const place = tallyPlaceOf(options)
  if (place.tally === undefined && place.data === undefined)
    throw new Stop(EXIT.usage, 'which cells are due is known from a tally: give --tally or --data')
  if (check && out === undefined) throw new Stop(EXIT.usage, '--check compares with a file: name it with --out')
  guardInputs(out, [args.file, place.tally], world)
  const register = await readRegister(args.file, world)
  const entries = await readEntries(place, world, { register })
  const newest = entries.reduce((latest, { at }) => Math.max(latest, Date.parse(at)), 0)
  const dues = cellsDue(register, ledgerOf(register, entries), world.now())
  return deliver({ text: calendar(register, dues, newest), out, check }, world)
}
