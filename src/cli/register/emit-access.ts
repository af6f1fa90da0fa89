import { accessListOf } from '../../emit/broker/access.ts'
import type { Given } from '../program/command.ts'
import type { Exit, World } from '../world.ts'
import { accessSet, mustBeOwn } from './access-houses.ts'
import { makeAccounts, mustGoTogether } from './broker-accounts.ts'
import type * as commands from './commands.ts'
import { deliver } from './emit-deliver.ts'

export async function run({ args: { file }, options }: Given<typeof commands.access>, world: World): Promise<Exit> {
  const { out, check, accounts: passwords, renew } = options
  mustGoTogether(options)
  const set = await accessSet('emit access', file, { ...options, list: out }, world)
  const { houses } = set
  if (!check) await mustBeOwn(out, set, world)
  const exit = await deliver({ text: accessListOf(houses), out, check }, world)
  const tell = (line: string): void => void world.stderr.write(`${line}\n`)
  if (passwords !== undefined) {
    await makeAccounts(houses, { passwords, renew }, world)
    tell(`The broker must be able to read ${passwords}: where it runs as a user of its own, chown it to that user.`)
  } else if (out !== undefined)
    tell(`Name it in the broker's settings (acl_file ${out}) and make the accounts with --accounts.`)
  return exit
}
