import { existsSync, mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Links } from '../../link/node/links.ts'
import type { Register } from '../../register/types.ts'
import { fileReason } from '../../text/file-reason.ts'
import type { KeepOptions } from '../begin/keep-options.ts'
import { KeeperProblem } from '../begin/keeper-problem.ts'
import { within } from '../clock.ts'
import type { LogCode, TellOfHouses } from '../log-codes.ts'
import { TALLY_FILE } from '../store/schema.ts'
import { fileProblem } from '../store/store-problem.ts'
import { Claims } from './claims.ts'
import { nameOf, registersIn } from './folder.ts'
import { House } from './house.ts'
import type { GoneHouse, KeptHouse } from './kept-house.ts'
import { LOOK_MILLISECONDS } from './text-watch.ts'

/** What the keepers of a folder of registers are given. */
export interface HousesOptions extends Pick<KeepOptions, 'signal' | 'homie' | 'now'> {
  /** Folder of the registers: every `*.yaml` and `*.yml` in it is a house, but hidden files. */
  readonly registers: string
  /** That folder as messages name it; default: `registers`. */
  readonly named?: string
  /** Gets a folder for each house's tally, named as its register without the ending. */
  readonly folder: string
  /** As the keeper of one house has them, with a folder for each house. */
  readonly backups?: KeepOptions['backups']
  /** The way to a house's broker, asked for at each start of its keeper; what it throws is told, and tried again. */
  links(register: Register, name: string): Links | Promise<Links>
  /** Name of the file in `registers` that `links` reads for a house: its keeper begins anew when that comes or changes. */
  accountOf?(name: string): string
  readonly tell: TellOfHouses
  /**
   * The keepers have begun: what each house is at the moment of the call, in the order of the names, and which have
   * gone since the process began and are not back.
   */
  opened?(houses: () => readonly KeptHouse[], gone: () => readonly GoneHouse[]): void
}

/**
 * Runs a keeper for each register of a folder, each with a store of its own, until the signal ends them. Registers may
 * come, go and be edited meanwhile. What is wrong with one house is told and tried again, and the others go on.
 * @throws KeeperProblem when the folder of registers cannot be read at the start
 * @throws StoreProblem when that of the tallies cannot be made
 */
export async function keepHouses(options: HousesOptions): Promise<void> {
  const { registers, named = registers, signal, tell, now = Date.now } = options
  const begin = beginner(options)
  const houses = new Map<string, House>()
  const left = new Map<string, GoneHouse>()
  const files = await filesAtStart(registers, named)
  makeFolder(options.folder)
  for (const file of oldestFirst(files, options)) houses.set(file, begin(file, false))
  if (houses.size === 0) tell(`${named} holds no register yet: each *.yaml or *.yml that comes is a house`, 'houses')
  const isBack = (name: string): boolean => [...houses.values()].some(house => house.name === name)
  options.opened?.(
    () => byName([...houses.values()]),
    () => [...left.values()].filter(({ name }) => !isBack(name)),
  )
  const stopped = new Promise<void>(done => signal.addEventListener('abort', () => done(), { once: true }))
  let missing: ReadonlySet<string> = new Set()
  let told = ''
  while (!signal.aborted && !(await within(LOOK_MILLISECONDS, stopped))) {
    const files = await registersIn(registers).catch((error: unknown) => {
      const why = `${named} cannot be read: ${fileReason(error)}; the houses that were there are kept on`
      if (why !== told) tell(why, 'houses')
      told = why
    })
    if (!files) continue
    told = ''
    for (const file of files) {
      if (houses.has(file)) continue
      tell(`${join(named, file)} came: a keeper begins`, 'house-came', nameOf(file))
      houses.set(file, begin(file, true))
    }
    const gone = [...houses.keys()].filter(file => !files.includes(file))
    // A file that is being replaced may be away for a moment.
    await Promise.all(gone.filter(file => missing.has(file)).map(file => end(file)))
    missing = new Set(gone)
  }
  await Promise.all([...houses.values()].map(house => house.end()))

  async function end(file: string): Promise<void> {
    tell(`${join(named, file)} is gone: its keeper ends, its tally stays`, 'house-gone', nameOf(file))
    const house = houses.get(file)
    await house?.end()
    houses.delete(file)
    if (house) left.set(house.name, { name: house.name, register: house.register, at: now() })
  }
}

function beginner({
  registers,
  named = registers,
  folder,
  backups,
  links,
  tell,
  homie,
  accountOf,
  now = Date.now,
}: HousesOptions) {
  const claims = new Claims()
  return (file: string, isNew: boolean): House => {
    const name = nameOf(file)
    const own = {
      ...{ file: join(named, file), path: join(registers, file), name, folder: join(folder, name), claims, now },
      links: (register: Register) => links(register, name),
      tell: (text: string, code: LogCode) => tell(text, code, name),
    }
    const more = backups ? { backups: { ...backups, folder: join(backups.folder, name) } } : {}
    const account = accountOf?.(name)
    const watched =
      account === undefined ? {} : { account: { file: join(named, account), path: join(registers, account) } }
    return new House({ ...own, ...more, ...watched, ...(homie ? { homie } : {}) }, isNew)
  }
}

/** One, not those above it: what a disk that is not mounted lacks must not be made beside it. */
function makeFolder(folder: string): void {
  try {
    if (!existsSync(folder)) mkdirSync(folder, { mode: 0o700 })
  } catch (error) {
    throw fileProblem(error, join(folder, TALLY_FILE))
  }
}

async function filesAtStart(registers: string, named: string): Promise<readonly string[]> {
  try {
    return await registersIn(registers)
  } catch (error) {
    throw new KeeperProblem(`${named} cannot be read: ${fileReason(error)}`)
  }
}

/** Of two files with one name the one whose keeper is at work is the house. */
function byName(houses: readonly House[]): readonly House[] {
  const rank = ({ keeper, register }: House): number =>
    2 * Number(keeper !== undefined) + Number(register !== undefined)
  const best = new Map([...houses].sort((a, b) => rank(a) - rank(b)).map(house => [house.name, house]))
  return [...best.values()].sort((a, b) => (a.name < b.name ? -1 : 1))
}

/** A house with a tally comes before a newer one that wants its place. */
const oldestFirst = (files: readonly string[], { folder }: HousesOptions): readonly string[] => {
  const isKept = (file: string): number => Number(existsSync(join(folder, nameOf(file), TALLY_FILE)))
  return [...files].sort((a, b) => isKept(b) - isKept(a))
}
