import { randomBytes } from 'node:crypto'
import { existsSync } from 'node:fs'
import { chmod } from 'node:fs/promises'
import { resolve } from 'node:path'
import { type Account, accessProblems, accounts } from '../../emit/broker/access.ts'
import { privatePasswords } from '../../emit/firmware/private-header.ts'
import type { Register } from '../../register/types.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { hashPasswords } from './hash-passwords.ts'
import { notePasswordTimes } from './password-times.ts'
import { type Filled, fillPrivateFile } from './private-file.ts'

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

/**
 * The accounts of a register that an access list can hold.
 * @throws Stop exit 1 with every name that the list cannot hold, exit 2 for a renewal of an account that is none
 */
export function accountsOf(register: Register, renew: readonly string[]): readonly Account[] {
  const problems = accessProblems(register)
  if (problems.length) throw new Stop(EXIT.input, problems.map(({ message }) => message).join('\nsashtally: '))
  const all = accounts(register)
  const strangers = renew.filter(user => !all.some(account => account.user === user))
  if (strangers.length) throw new Stop(EXIT.usage, `no such account: ${strangers.join(', ')}`)
  return all
}

export interface Making {
  /** The broker's password file. */
  readonly passwords: string
  readonly privateFile: string | undefined
  readonly renew: readonly string[]
  readonly register: Register
}

const userOf = (line: string): string => line.slice(0, line.indexOf(':'))

/** Adds the accounts that the broker's file lacks; a contact's password goes straight to the private header. */
export async function makeAccounts(
  all: readonly Account[],
  { passwords: file, privateFile, renew, register }: Making,
  world: World,
): Promise<void> {
  const old = existsSync(resolve(world.cwd, file)) ? await readText(file, world) : ''
  const kept = old.split('\n').filter(line => line !== '' && !renew.includes(userOf(line)))
  const known = new Set(kept.map(userOf))
  const made = all
    .filter(({ user }) => !known.has(user))
    .map(account => ({ ...account, password: randomBytes(15).toString('base64url') }))
  const isPrivate = ({ mark }: Account): boolean => privateFile !== undefined && mark !== undefined
  if (made.length) {
    const hashed = await hashPasswords(new Map(made.map(({ user, password }) => [user, password])), world)
    const own = new Map(made.filter(isPrivate).map(({ mark = '', password }) => [mark, password]))
    const filled = privateFile === undefined ? undefined : await fill(privateFile, register, own, world)
    try {
      await writeWhole(file, `${[...kept, ...hashed].join('\n')}\n`, world, 0o600)
      await chmod(resolve(world.cwd, file), 0o600)
    } catch (error) {
      await filled?.undo()
      throw error
    }
    showOnce(
      made.filter(account => !isPrivate(account)),
      world,
    )
  } else world.stderr.write(`${file} has every account already.\n`)
  if (privateFile !== undefined) await tellPrivate(privateFile, register, world)
  const gone = [...known].filter(user => !all.some(account => account.user === user))
  if (gone.length)
    world.stderr.write(`${file} also holds accounts that the register does not know: ${gone.join(', ')}\n`)
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

function showOnce(made: readonly (Account & { readonly password: string })[], world: World): void {
  if (made.length === 0) return
  world.stdout.write('Passwords, shown this once:\n')
  const width = Math.max(...made.map(({ user }) => user.length))
  for (const { user, what, password } of made) world.stdout.write(`  ${user.padEnd(width)}  ${password}  ${what}\n`)
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
