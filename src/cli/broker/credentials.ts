import { resolve } from 'node:path'
import type { Credentials } from '../../link/node/links.ts'
import { readText } from '../files/read-write.ts'
import { warnIfOpen } from '../files/secret-file.ts'
import { EXIT, NoTerminal, Stop, type World } from '../world.ts'

/**
 * The account at the broker: the user from SASHTALLY_USER, the password from the file that SASHTALLY_PASSWORD_FILE names
 * or asked for at the terminal; never from the command line, which every user of the machine can read.
 * @throws Stop exit 2 when a user is named and no password can be had
 */
export async function credentialsOf(world: World): Promise<Credentials> {
  const username = world.env.SASHTALLY_USER
  if (username === undefined || username === '') return {}
  const file = world.env.SASHTALLY_PASSWORD_FILE
  if (file !== undefined && file !== '') {
    await warnIfOpen(file, world)
    const password = (await readText(resolve(world.cwd, file), world)).replace(/\r?\n$/, '')
    if (password === '') throw new Stop(EXIT.usage, `${file} is empty: it should hold the password of ${username}`)
    return { username, password }
  }
  try {
    return { username, password: await world.ask(`Password of ${username} at the broker: `, { secret: true }) }
  } catch (error) {
    if (!(error instanceof NoTerminal)) throw error
    const way = 'name a file that holds it in SASHTALLY_PASSWORD_FILE'
    throw new Stop(
      EXIT.usage,
      `SASHTALLY_USER is ${username}, and there is no terminal to ask for the password: ${way}`,
    )
  }
}
