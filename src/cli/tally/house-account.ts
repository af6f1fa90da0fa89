import { existsSync } from 'node:fs'
import type { Credentials } from '../../link/node/links.ts'
import { readText } from '../files/read-write.ts'
import { EXIT, Stop, type World } from '../world.ts'

/**
 * The account of one house among many: the user on the first line of its file, the password on the second.
 * @returns undefined where there is no such file
 * @throws Stop when it cannot be read or lacks one of the two
 */
export async function houseAccount(file: string, world: World): Promise<Credentials | undefined> {
  if (!existsSync(file)) return undefined
  const [username = '', password = ''] = (await readText(file, world)).split(/\r?\n/)
  if (username !== '' && password !== '') return { username, password }
  throw new Stop(EXIT.input, `${file} lacks a user on its first line or a password on its second: write both`)
}
