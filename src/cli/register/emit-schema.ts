import { registerSchemaText } from '../../emit/standards/register-schema.ts'
import { jsonText } from '../json/json-text.ts'
import { outputSchema } from '../json/outputs.ts'
import type { Given } from '../program/command.ts'
import type { Exit, World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver } from './emit-deliver.ts'

export function run({ options: { of, ...delivery } }: Given<typeof commands.schema>, world: World): Promise<Exit> {
  const text = of === 'register' ? registerSchemaText() : jsonText(outputSchema(of))
  return deliver({ text, ...delivery }, world)
}
