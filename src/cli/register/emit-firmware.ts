import { existsSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { firmwareHeader } from '../../emit/firmware/firmware.ts'
import { PRIVATE_HEADER, privateHeader } from '../../emit/firmware/private-header.ts'
import { addressesOf, brokerOf, isAddress, isLoopback } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { writeWhole } from '../files/read-write.ts'
import { openingOf, readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { contactProgram } from './contact-program.ts'
import { deliver, tellRemarks } from './emit-deliver.ts'
import { notePasswordTimes } from './password-times.ts'
import { mustBeOwnPrivate } from './private-file.ts'

export async function run({ args: { file }, options }: Given<typeof commands.firmware>, world: World): Promise<Exit> {
  const { out, mark, port, check } = options
  const register = await readRegister(file, world)
  const secret = join(out, PRIVATE_HEADER)
  if (!check) await mustBeOwnPrivate(secret, register, world)
  const openings = mark === undefined ? register.openings : [openingOf(register, mark, '--mark')]
  tellRemarks(brokerRemarks(register), world)
  let exit: Exit = EXIT.fine
  const headers = openings.map(opening => firmwareHeader(opening, register))
  for (const { name, text } of [...headers, ...(await contactProgram(port, world))]) {
    const done = await deliver({ text, out: join(out, name), check }, world)
    if (done !== EXIT.fine) exit = done
  }
  if (check) return exit
  if (existsSync(resolve(world.cwd, secret))) {
    await notePasswordTimes(
      secret,
      register.openings.map(({ mark }) => mark),
      world,
    )
    return exit
  }
  await writeWhole(secret, privateHeader(register), world, 0o600)
  world.stderr.write(`${secret} is written once, and is yours from now on: fill in the passwords.\n`)
  return exit
}

function brokerRemarks({ broker }: Register): string[] {
  const hosts = addressesOf(broker, 'mqtt').flatMap(address => brokerOf(address)?.host ?? [])
  if (hosts.length === 0) return ['the register gives no broker address: the headers leave it to private.h']
  return hosts.flatMap(host => {
    if (isLoopback(host))
      return [`the broker ${host} is this machine itself: no contact in a wall can reach it; give its host name`]
    return isAddress(host)
      ? [`the address ${host} is flashed into every module; a host name would outlive a new broker`]
      : []
  })
}
