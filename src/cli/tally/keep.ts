import { resolve } from 'node:path'
import { linksTo } from '../../link/node/links.ts'
import { credentialsOf } from '../broker/credentials.ts'
import { brokerUrlOf } from '../broker/link.ts'
import { fileOrHouses } from '../files/file-or-houses.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { type KeepingOptions, keepFile } from './keeping.ts'
import { keepFolder, mustBeForMany } from './keeping-houses.ts'
import { withLog } from './log.ts'

/** Where copies of the tally go, as `keep` and `serve` are told it. */
export const backupsOf = (
  { backups, keep }: { readonly backups?: string | undefined; readonly keep: number },
  world: World,
): Pick<KeepingOptions, 'backups'> =>
  backups === undefined ? {} : { backups: { folder: resolve(world.cwd, backups), keep } }

type Asked = Given<typeof commands.keep>

export async function run({ args, options }: Asked, world: World): Promise<Exit> {
  const { file, registers } = fileOrHouses('keep', args.file, options.houses)
  if (file !== undefined) await keepOne(file, options, world)
  else await keepMany(registers, options, world)
  return EXIT.fine
}

async function keepOne(file: string, options: Asked['options'], world: World): Promise<void> {
  const { data: folder, giveRestWords, homie, beginAnew } = options
  const url = brokerUrlOf(await readRegister(file, world))
  const links = linksTo(url, await credentialsOf(world))
  const keeping = { path: file, folder, links, giveRestWords, homie, beginAnew, ...backupsOf(options, world) }
  await withLog(options.log, world, tell => keepFile({ ...keeping, tell }, world))
}

async function keepMany(registers: string, options: Asked['options'], world: World): Promise<void> {
  const { data: folder, giveRestWords, homie, beginAnew, log } = options
  mustBeForMany({ '--give-rest-words': giveRestWords, '--begin-anew': beginAnew })
  const account = await credentialsOf(world)
  await withLog(log, world, tell =>
    keepFolder({ registers, folder, account, homie, ...backupsOf(options, world), tell }, world),
  )
}
