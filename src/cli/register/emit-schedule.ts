import { scheduleCsv, scheduleHtml } from '../../emit/paper/schedule.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import type { Exit, World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver } from './emit-deliver.ts'

export async function run({ args, options }: Given<typeof commands.schedule>, world: World): Promise<Exit> {
  const { csv, out, check } = options
  const register = await readRegister(args.file, world)
  return deliver({ text: csv ? scheduleCsv(register) : scheduleHtml(register), out, check }, world)
}
