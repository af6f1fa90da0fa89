import { join, resolve } from 'node:path'
import { type HousesOptions, keepHouses } from '../../keeper/houses/keep-houses.ts'
import { type Credentials, linksTo } from '../../link/node/links.ts'
import { brokerUrlOf } from '../broker/link.ts'
import { openFault } from '../files/secret-file.ts'
import { withStoreProblems } from '../store/problems.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { houseAccount } from './house-account.ts'

/** @throws Stop exit 2 where one of these options is given, each with its name: it is for one house */
export function mustBeForMany(given: Readonly<Record<string, unknown>>): void {
  const option = Object.keys(given).find(name => given[name])
  if (option === undefined) return
  const way = 'take its register out of the folder, and run keep on it once with --data DIR/NAME'
  throw new Stop(EXIT.usage, `${option} is for one house: ${way}`)
}

export interface FolderOptions extends Pick<HousesOptions, 'registers' | 'folder' | 'backups' | 'tell' | 'opened'> {
  /** Of the houses that have none of their own; undefined: each must have one. */
  readonly account: Credentials | undefined
  readonly homie: boolean
}

/** What the page of houses says rests on these links: a broker that falls silent is noticed after one and a half. */
const KEEP_ALIVE_SECONDS = 10

/**
 * Runs the keepers of a folder of registers.
 * @returns when the world's signal stops them
 * @throws Stop exit 3 when the folder cannot be read
 */
export function keepFolder({ account, ...options }: FolderOptions, world: World): Promise<void> {
  const registers = resolve(world.cwd, options.registers)
  const accountOf = (name: string): string => `${name}.account`
  const told = new Map<string, string | undefined>()
  const tellIfOpen = async (file: string, name: string): Promise<void> => {
    const fault = await openFault(file, world)
    if (fault !== undefined && fault !== told.get(name)) options.tell(fault, 'account', name)
    told.set(name, fault)
  }
  const links: HousesOptions['links'] = async (register, name) => {
    const file = join(registers, accountOf(name))
    await tellIfOpen(file, name)
    const own = (await houseAccount(file, world)) ?? account
    if (!own) throw new Stop(EXIT.usage, `${file} is missing, and SASHTALLY_USER names no account for all houses`)
    const links = linksTo(brokerUrlOf(register), own)
    return { ...links, link: wishes => links.link({ keepAliveSeconds: KEEP_ALIVE_SECONDS, ...wishes }) }
  }
  const { now, signal } = world
  const folder = resolve(world.cwd, options.folder)
  return withStoreProblems(() =>
    keepHouses({ ...options, registers, named: options.registers, folder, links, accountOf, now, signal }),
  )
}
