import { join, resolve } from 'node:path'
import { type HousesOptions, keepHouses } from '../../keeper/houses/keep-houses.ts'
import { type Credentials, linksTo } from '../../link/node/links.ts'
import { brokerUrlOf } from '../broker/link.ts'
import { withStoreProblems } from '../store/problems.ts'
import type { World } from '../world.ts'
import { houseAccount } from './house-account.ts'

export interface FolderOptions extends Pick<HousesOptions, 'registers' | 'folder' | 'backups' | 'tell' | 'opened'> {
  /** Of the houses that have none of their own. */
  readonly account: Credentials
  readonly homie: boolean
}

/**
 * Runs the keepers of a folder of registers.
 * @returns when the world's signal stops them
 * @throws Stop exit 3 when the folder cannot be read
 */
export function keepFolder({ account, ...options }: FolderOptions, world: World): Promise<void> {
  const registers = resolve(world.cwd, options.registers)
  const links: HousesOptions['links'] = async (register, name) =>
    linksTo(brokerUrlOf(register), (await houseAccount(join(registers, `${name}.account`), world)) ?? account)
  const { now, signal } = world
  const folder = resolve(world.cwd, options.folder)
  return withStoreProblems(() => keepHouses({ ...options, registers, folder, links, now, signal }))
}
