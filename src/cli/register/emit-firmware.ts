import { existsSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { firmwareHeader, SECRETS_TEMPLATE } from '../../emit/firmware/firmware.ts'
import { brokerOf, isAddress, isLoopback } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { writeWhole } from '../files/read-write.ts'
import { openingOf, readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver, tellRemarks } from './emit-deliver.ts'

export async function run({ args: { file }, options }: Given<typeof commands.firmware>, world: World): Promise<Exit> {
  const { out, mark, check } = options
  const register = await readRegister(file, world)
  const openings = mark === undefined ? register.openings : [openingOf(register, mark, '--mark')]
  tellRemarks(brokerRemarks(register), world)
  let exit: Exit = EXIT.fine
  for (const opening of openings) {
    const { name, text } = firmwareHeader(opening, register)
    const done = await deliver({ text, out: join(out, name), check }, world)
    if (done !== EXIT.fine) exit = done
  }
  const secrets = join(out, SECRETS_TEMPLATE.name)
  if (check || existsSync(resolve(world.cwd, secrets))) return exit
  await writeWhole(secrets, SECRETS_TEMPLATE.text, world, 0o600)
  world.stderr.write(`${secrets} is written once: fill it in, it is yours from now on.\n`)
  return exit
}
function brokerRemarks({ broker }: Register): string[] {
  const address = broker.mqtt === undefined ? undefined : brokerOf(broker.mqtt)
  if (!address) return ['the register gives no broker address: the headers leave it to secrets.h']
  if (isLoopback(address.host)) {
    return [`the broker ${address.host} is this machine itself: no contact in a wall can reach it; give its host name`]
  }
  return isAddress(address.host)
    ? [`the address ${address.host} is flashed into every module; a host name would outlive a new broker`]
    : []
}
