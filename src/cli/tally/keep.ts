import { tame } from '../../text/problems.ts'
import { iso } from '../../text/time.ts'
import { accountOf } from '../shared/account.ts'
import { readRegister } from '../shared/files.ts'
import { brokerOf } from '../shared/house-link.ts'
import { type CommandSpec, EXIT, type Exit, type Given, Stop, type World } from '../world.ts'
import { keepHouse } from './keeping.ts'

export const keepCommand: CommandSpec = {
  name: 'keep',
  args: '<file>',
  summary: 'Keep the tally: every word for good, readings and plain words for walls and hubs.',
  options: [
    { flags: '--data <dir>', text: 'folder of the tally; made when it is not there' },
    {
      flags: '--give-rest-words',
      text: "once, after the broker was rebuilt: publish the sleeping contacts' rest words, retained (needs an account that may)",
    },
  ],
  examples: ['sashtally keep examples/ropewalk.yaml --data /var/lib/sashtally'],
  run,
}

/** @throws Stop exit 2 when `--data` is missing */
export function folderOf({ data }: Given['options']): string {
  if (typeof data === 'string' && data !== '') return data
  throw new Stop(EXIT.usage, 'give the folder of the tally with --data DIR')
}

/** A line with the time before it. */
export const teller =
  (world: World) =>
  (line: string): void =>
    world.stdout.write(`${iso(world.now())}  ${tame(line)}\n`)

async function run({ args: [path = ''], options }: Given, world: World): Promise<Exit> {
  const folder = folderOf(options)
  const broker = brokerOf(await readRegister(path, world))
  const account = await accountOf(world)
  const giveRestWords = options.giveRestWords === true
  await keepHouse({ path, folder, account, broker, giveRestWords, tell: teller(world) }, world)
  return EXIT.fine
}
