import { accessList } from '../../emit/broker/access.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import type { Exit, World } from '../world.ts'
import { accountsOf, makeAccounts, mustGoTogether } from './broker-accounts.ts'
import type * as commands from './commands.ts'
import { deliver } from './emit-deliver.ts'

export async function run({ args: { file }, options }: Given<typeof commands.access>, world: World): Promise<Exit> {
  const { out, check, accounts: passwords, private: privateFile, renew } = options
  mustGoTogether(options)
  const register = await readRegister(file, world)
  const all = accountsOf(register, renew)
  const exit = await deliver({ text: accessList(register), out, check }, world)
  const tell = (line: string): void => void world.stderr.write(`${line}\n`)
  if (passwords !== undefined) {
    await makeAccounts(all, { passwords, privateFile, renew, register }, world)
    tell(`The broker must be able to read ${passwords}: where it runs as a user of its own, chown it to that user.`)
  } else if (out !== undefined)
    tell(`Name it in the broker's settings (acl_file ${out}) and make the accounts with --accounts.`)
  return exit
}
