import { calendar } from '../../emit/standards/calendar.ts'
import { cellsDue } from '../cells/cells-due.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { readTally } from '../store/read-tally.ts'
import { tallyPathOf } from '../store/tally-path.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver, guardInputs } from './emit-deliver.ts'

export async function run({ args, options }: Given<typeof commands.calendar>, world: World): Promise<Exit> {
  const { out, check } = options
  const at = tallyPathOf(options)
  if (!at) throw new Stop(EXIT.usage, 'which cells are due is known from a tally: give --tally or --data')
  if (check && out === undefined) throw new Stop(EXIT.usage, '--check compares with a file: name it with --out')
  guardInputs(out, [args.file, options.tally], world)
  const register = await readRegister(args.file, world)
  const { ledger, newest } = await readTally(at, register, world, tally => ({
    ledger: tally.ledger(),
    newest: tally.store.lastAt() ?? 0,
  }))
  const dues = cellsDue(register, ledger, world.now())
  return deliver({ text: calendar(register, dues, newest), out, check }, world)
}
