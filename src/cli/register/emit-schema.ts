import { registerSchemaText } from '../../emit/standards/register-schema.ts'
import type { Given } from '../program/command.ts'
import type { Exit, World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver } from './emit-deliver.ts'

export const run = ({ options }: Given<typeof commands.schema>, world: World): Promise<Exit> =>
  deliver({ text: registerSchemaText(), ...options }, world)
