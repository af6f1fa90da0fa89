import { things } from '../../emit/standards/things.ts'
import type { Given } from '../program/command.ts'
import type { Exit, World } from '../world.ts'
import type * as commands from './commands.ts'
import { emitText } from './emit-text.ts'

export const run = ({ args, options }: Given<typeof commands.things>, world: World): Promise<Exit> =>
  emitText(things, args.file, options, world)
