import { asyncapi } from '../../emit/standards/asyncapi.ts'
import { asyncapiOfTally } from '../../emit/standards/asyncapi-tally.ts'
import type { Given } from '../program/command.ts'
import type { Exit, World } from '../world.ts'
import type * as commands from './commands.ts'
import { emitText } from './emit-text.ts'

const EMITTERS = { contacts: asyncapi, tally: asyncapiOfTally } as const

export const run = ({ args, options }: Given<typeof commands.asyncapi>, world: World): Promise<Exit> =>
  emitText(EMITTERS[options.of], args.file, options, world)
