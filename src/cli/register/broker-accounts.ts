import { randomBytes } from 'node:crypto'
import { existsSync } from 'node:fs'
import { rm } from 'node:fs/promises'
import { resolve } from 'node:path'
import type { Account } from '../../emit/broker/access.ts'
import { privatePasswords } from '../../emit/firmware/private-header.ts'
import type { Register } from '../../register/types.ts'
import { messageOf } from '../../text/message-of.ts'
import { tame } from '../../text/problems.ts'
import { readText } from '../files/read-write.ts'
import { EXIT, Stop, type World } from '../world.ts'
import type { AccessHouse } from './access-houses.ts'
import { hashPasswords } from './hash-passwords.ts'
import { notePasswordTimes } from './password-times.ts'
import { type Filled, fillPrivateFile, writePrivate } from './private-file.ts'

export interface AccountOptions {
  readonly accounts: string | undefined
  readonly private: string | undefined
  readonly check: boolean
  readonly out: string | undefined
}

/** @throws Stop exit 2 where the options of accounts do not go together */
export function mustGoTogether({ accounts: passwords, private: privateFile, check, out }: AccountOptions): void {
  if (passwords !== undefined && (check || out === undefined)) {
    throw new Stop(EXIT.usage, '--accounts writes passwords: use it with --out and without --check')
  }
  if (privateFile !== undefined && passwords === undefined) {
    throw new Stop(EXIT.usage, '--private takes the passwords that are made with --accounts: name that file too')
  }
}

export interface Making {
  /** The broker's password file. */
  readonly passwords: string
  readonly renew: readonly string[]
}

interface Made extends Account {
  readonly password: string
}

const userOf = (line: string): string => line.slice(0, line.indexOf(':'))

/**
 * Adds the accounts that the broker's file lacks; a contact's password goes straight to the private header of its house,
 * a keeper's to the file of its account where there is one.
 */
export async function makeAccounts(
  houses: readonly AccessHouse[],
  { passwords: file, renew }: Making,
  world: World,
): Promise<void> {
  const old = existsSync(resolve(world.cwd, file)) ? await readText(file, world) : ''
  const kept = old.split('\n').filter(line => line !== '' && !renew.includes(userOf(line)))
  const known = new Set(kept.map(userOf))
  const made = houses.map(house => ({
    house,
    all: house.accounts
      .filter(({ user }) => !known.has(user))
      .map((account): Made => ({ ...account, password: randomBytes(15).toString('base64url') })),
  }))
  if (made.some(({ all }) => all.length > 0)) {
    const plain = made.flatMap(({ all }) => all.map(({ user, password }) => [user, password] as const))
    const hashed = await hashPasswords(new Map(plain), world)
    const filled: Filled[] = []
    const toShow: Made[] = []
    try {
      for (const { house, all } of made) toShow.push(...(await handOut(house, all, filled, world)))
      await writePrivate(file, `${[...kept, ...hashed].join('\n')}\n`, world)
    } catch (error) {
      for (const each of filled) await putBack(each, file, world)
      throw error
    }
    showOnce(toShow, world)
  } else world.stderr.write(`${file} has every account already.\n`)
  for (const house of houses) {
    tellKeeper(house, world)
    if (house.privateFile !== undefined) await tellPrivate(house.privateFile, house.register, world)
  }
  const users = new Set(houses.flatMap(({ accounts }) => accounts.map(({ user }) => user)))
  const gone = [...known].filter(user => !users.has(user))
  if (gone.length)
    world.stderr.write(`${file} also holds accounts that the register does not know: ${gone.join(', ')}\n`)
}

/** A file that cannot be put back keeps none of the others from it, and is named. */
async function putBack({ path, undo }: Filled, passwords: string, world: World): Promise<void> {
  try {
    await undo()
  } catch (error) {
    const what = `${path} holds new passwords that ${passwords} has not, and could not be put back`
    world.stderr.write(
      `${tame(`${what} (${messageOf(error)}): give its accounts new ones with --renew once both can be written`)}\n`,
    )
  }
}

/**
 * Writes the passwords that nobody need type where they are used.
 * @param written - gets each file as soon as it is written, so that a later failure can undo it
 * @returns the others: they are to be shown
 */
async function handOut(
  { register, privateFile, keeperFile }: AccessHouse,
  made: readonly Made[],
  written: Filled[],
  world: World,
): Promise<readonly Made[]> {
  let shown = made
  if (privateFile !== undefined) {
    const own = shown.filter(({ mark }) => mark !== undefined)
    shown = shown.filter(({ mark }) => mark === undefined)
    if (own.length > 0)
      written.push(
        await fill(privateFile, register, new Map(own.map(({ mark = '', password }) => [mark, password])), world),
      )
  }
  const keeper = shown.find(({ role }) => role === 'keeper')
  if (keeper && keeperFile !== undefined) {
    const filled = await writeAccount(keeperFile, keeper, world)
    if (filled) {
      written.push(filled)
      shown = shown.filter(each => each !== keeper)
    }
  }
  return shown
}

/** @returns undefined where the file holds another user: that is the person's */
async function writeAccount(path: string, { user, password }: Made, world: World): Promise<Filled | undefined> {
  const target = resolve(world.cwd, path)
  const before = existsSync(target) ? await readText(path, world) : undefined
  if (before !== undefined && before.split(/\r?\n/)[0] !== user) {
    world.stderr.write(`${path} holds another account than ${user}: it stays as it is\n`)
    return undefined
  }
  await writePrivate(path, `${user}\n${password}\n`, world)
  world.stderr.write(`${path} holds the password of ${user}; only its owner may read it.\n`)
  return {
    path,
    undo: () => (before === undefined ? rm(target, { force: true }) : writePrivate(path, before, world)),
  }
}

/** What stood in the private header is noted before it is written over. */
async function fill(
  privateFile: string,
  register: Register,
  own: ReadonlyMap<string, string>,
  world: World,
): Promise<Filled> {
  const marks = register.openings.map(({ mark }) => mark)
  if (existsSync(resolve(world.cwd, privateFile))) await notePasswordTimes(privateFile, marks, world)
  return fillPrivateFile(privateFile, register, own, world)
}

function showOnce(made: readonly Made[], world: World): void {
  if (made.length === 0) return
  world.stdout.write('Passwords, shown this once:\n')
  const width = Math.max(...made.map(({ user }) => user.length))
  for (const { user, what, password } of made) world.stdout.write(`  ${user.padEnd(width)}  ${password}  ${what}\n`)
}

/** A keeper's file that was lost cannot be made again from the broker's hash. */
function tellKeeper({ accounts, keeperFile }: AccessHouse, world: World): void {
  const keeper = accounts.find(({ role }) => role === 'keeper')
  if (!keeper || keeperFile === undefined || existsSync(resolve(world.cwd, keeperFile))) return
  world.stderr.write(
    `${keeperFile} is not there, and the broker keeps only a hash: give ${keeper.user} a new password: --renew ${keeper.user}\n`,
  )
}

async function tellPrivate(privateFile: string, register: Register, world: World): Promise<void> {
  if (!existsSync(resolve(world.cwd, privateFile))) await fillPrivateFile(privateFile, register, new Map(), world)
  const marks = register.openings.map(({ mark }) => mark)
  const { contacts } = privatePasswords(await readText(privateFile, world), marks)
  await notePasswordTimes(privateFile, marks, world)
  const say = (line: string): void => world.stderr.write(`${line}\n`)
  say(`${privateFile} holds the passwords of ${contacts.size} of ${marks.length} contacts; only its owner may read it.`)
  const lacking = register.openings.filter(({ mark }) => !contacts.has(mark))
  if (lacking.length)
    say(
      `The broker keeps only hashes, so these cannot be filled in: ${lacking.map(({ mark }) => mark).join(', ')}. Give them new passwords: --renew ${lacking.map(({ client }) => client).join(' ')}`,
    )
  say('A module whose password is new must be flashed again: sashtally check FILE --tally F --private … lists them.')
}
