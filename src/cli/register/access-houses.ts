import { existsSync } from 'node:fs'
import { dirname, join, resolve } from 'node:path'
import { type Account, accessProblems, accounts, sharing } from '../../emit/broker/access.ts'
import { inComment, type ListedHouse, listedHouses } from '../../emit/broker/listed-houses.ts'
import type { SettingsHouse } from '../../emit/broker/settings.ts'
import { brokerNamed } from '../../keeper/houses/claims.ts'
import { addressesOf } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { firstOf } from '../../text/lists.ts'
import { formatProblem, tame } from '../../text/problems.ts'
import { fileOrHouses } from '../files/file-or-houses.ts'
import { clashProblems, exitOf, readHouses } from '../files/houses.ts'
import { readText } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { mustBeOwnPrivate } from './private-file.ts'

/** A house with its accounts. */
export interface AccessHouse {
  /** What comments of the list call it. */
  readonly title: string
  readonly register: Register
  readonly accounts: readonly Account[]
  /** Takes the passwords of its contacts. */
  readonly privateFile?: string
  /** Takes the account of its keeper, as `keep --houses` reads it. */
  readonly keeperFile?: string
}

/** The houses of one broker. */
export interface AccessSet {
  readonly houses: readonly AccessHouse[]
  /** For the settings. */
  readonly broker: SettingsHouse
  /** The list that stands where this one is to be written. */
  readonly listed: readonly ListedHouse[]
  /** Of the registers, where there is one for each house. */
  readonly folder?: string
}

interface Asked {
  /** Path of the list; undefined: it is only shown. */
  readonly list: string | undefined
  readonly houses: string | undefined
  readonly private: string | undefined
  readonly renew: readonly string[]
}

/**
 * A register, or a folder of registers of houses that share a broker, with the accounts of each.
 * @throws Stop exit 1 with every name that the list cannot hold, and where two houses clash or name different brokers;
 * exit 2 for a renewal of an account that is none; exit 3 where a file cannot be read, with what is wrong with the others
 */
export async function accessSet(
  command: string,
  file: string | undefined,
  asked: Asked,
  world: World,
): Promise<AccessSet> {
  const given = fileOrHouses(command, file, asked.houses)
  const listed = await listedAt(asked.list, world)
  const set =
    given.file === undefined
      ? await manyHouses(given.registers, listed, asked, world)
      : await oneHouse(given.file, listed, asked, world)
  const users = new Set(set.houses.flatMap(house => house.accounts.map(({ user }) => user)))
  const strangers = asked.renew.filter(user => !users.has(user))
  if (strangers.length) throw new Stop(EXIT.usage, `no such account: ${strangers.join(', ')}`)
  return set
}

async function listedAt(path: string | undefined, world: World): Promise<readonly ListedHouse[]> {
  return path !== undefined && existsSync(resolve(world.cwd, path)) ? listedHouses(await readText(path, world)) : []
}

type Listed = AccessSet['listed']

async function oneHouse(file: string, listed: Listed, asked: Asked, world: World): Promise<AccessSet> {
  const register = await readRegister(file, world)
  refuse(accessProblems(register))
  const { house: title } = register
  const privateFile = asked.private === undefined ? {} : { privateFile: asked.private }
  const all = accounts(register, undefined, listed)
  return { houses: [{ title, register, accounts: all, ...privateFile }], broker: register, listed }
}

async function manyHouses(folder: string, listed: Listed, asked: Asked, world: World): Promise<AccessSet> {
  const files = await readHouses(folder, world)
  const clashes = clashProblems(files)
  let errors = 0
  for (const { file, text, problems } of files) {
    const bad = [...problems, ...(clashes.get(file) ?? [])].filter(({ severity }) => severity === 'error')
    for (const problem of bad) world.stderr.write(`${formatProblem(problem, text, file)}\n`)
    errors += bad.length
  }
  if (errors > 0)
    throw new Stop(exitOf(files), `${folder}: ${errors} ${errors === 1 ? 'error' : 'errors'}; nothing was made`)
  const registers = new Map(files.flatMap(({ name, register }) => (register ? [[name, register] as const] : [])))
  const houses = sharing(registers).map((house): AccessHouse & { readonly problems: readonly string[] } => {
    const { name } = house
    const register = registers.get(name)!
    const file = files.find(each => each.name === name)!.file
    return {
      title: name,
      register,
      accounts: accounts(register, house, listed),
      keeperFile: join(dirname(file), `${name}.account`),
      ...(asked.private === undefined ? {} : { privateFile: join(asked.private, name, 'private.h') }),
      problems: accessProblems(register, house).map(problem => `${file}: ${problem}`),
    }
  })
  refuse([...houses.flatMap(({ problems }) => problems), ...twiceNamed(houses)])
  const broker = { house: firstOf([...registers.keys()], 6), broker: oneBroker(folder, registers) }
  return { houses, broker, listed, folder }
}

function refuse(problems: readonly string[]): void {
  if (problems.length) throw new Stop(EXIT.input, problems.join('\nsashtally: '))
}

/**
 * @param list - where the access list is to be written
 * @throws Stop exit 1 where that, or a private header to be filled in, is of another house
 */
export async function mustBeOwn(list: string | undefined, set: AccessSet, world: World): Promise<void> {
  for (const { privateFile, register } of set.houses)
    if (privateFile !== undefined) await mustBeOwnPrivate(privateFile, register, world)
  mustBeOwnList(list, set, world)
}

/**
 * One list holds all houses of a broker: that of one house alone must not take the place of others'. A house is known by
 * its tally: titles may be alike. Of a folder, what its list lets go of is told.
 */
function mustBeOwnList(path: string | undefined, { houses, listed, folder }: AccessSet, world: World): void {
  const own = houses.map(({ register }) => register.tally)
  const others = listed.filter(({ tally }) => tally === undefined || !own.includes(tally))
  if (path === undefined || others.length === 0) return
  const names = others.map(({ title, tally }) => (tally === undefined ? title : `${title} with the tally ${tally}`))
  const whose = tame(firstOf(names, 6))
  if (folder !== undefined) {
    world.stderr.write(
      `${tame(path)} had accounts of ${whose}: no register in ${tame(folder)} has such a tally, so they may do nothing once the broker takes the new list\n`,
    )
    return
  }
  const isAlike = houses.some(({ title }) => others.some(other => other.title === inComment(title)))
  refuse([
    `${path} is the access list of another house (${whose}), and a broker reads one list: nothing was made. Put the registers of all houses at the broker into one folder and name it with --houses; for a broker of its own name another file or folder with --out${isAlike ? '. If it is the same house, with a tally that it has no more, take that file away first' : ''}`,
  ])
}

/** A contact's client id may be what another house calls an account. */
function twiceNamed(houses: readonly AccessHouse[]): readonly string[] {
  const all = houses.flatMap(({ title, accounts }) => accounts.map(({ user }) => ({ title, user })))
  const first = new Map(all.toReversed().map(({ title, user }) => [user, title]))
  return all
    .filter(({ title, user }) => first.get(user) !== title)
    .map(
      ({ title, user }) =>
        `${title}: the account ${user} is one of ${first.get(user)} too; give the contact another client id`,
    )
}

/** @throws Stop exit 1 where the houses name more than one broker */
function oneBroker(folder: string, registers: ReadonlyMap<string, Register>): Register['broker'] {
  const found = (['mqtt', 'websocket'] as const).flatMap(kind => {
    const named = new Map<string, string>()
    for (const { broker } of registers.values()) {
      const [first] = addressesOf(broker, kind)
      if (first !== undefined) named.set(brokerNamed(first), first)
    }
    if (named.size > 1)
      throw new Stop(
        EXIT.input,
        `the houses of ${folder} name more than one broker: ${firstOf([...named.keys()], 6)}; one set is for one broker: put the registers of each into a folder of its own`,
      )
    return [...named.values()].map(address => [kind, address] as const)
  })
  return Object.fromEntries(found)
}
