import { randomBytes } from 'node:crypto'
import { existsSync } from 'node:fs'
import { chmod } from 'node:fs/promises'
import { resolve } from 'node:path'
import { type Account, accessList, accessProblems, accounts } from '../../emit/broker/access.ts'
import { privatePasswords } from '../../emit/firmware/private-header.ts'
import type { Register } from '../../register/types.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver } from './emit-deliver.ts'
import { hashPasswords } from './hash-passwords.ts'
import { notePasswordTimes } from './password-times.ts'
import { type Filled, fillPrivateFile } from './private-file.ts'

export async function run({ args: { file }, options }: Given<typeof commands.access>, world: World): Promise<Exit> {
  const { out, check, accounts: passwords, private: privateFile, renew } = options
  if (passwords !== undefined && (check || out === undefined)) {
    throw new Stop(EXIT.usage, '--accounts writes passwords: use it with --out and without --check')
  }
  if (privateFile !== undefined && passwords === undefined) {
    throw new Stop(EXIT.usage, '--private takes the passwords that are made with --accounts: name that file too')
  }
  const register = await readRegister(file, world)
  const problems = accessProblems(register)
  if (problems.length) throw new Stop(EXIT.input, problems.map(({ message }) => message).join('\nsashtally: '))
  const all = accounts(register)
  const strangers = renew.filter(user => !all.some(account => account.user === user))
  if (strangers.length) throw new Stop(EXIT.usage, `no such account: ${strangers.join(', ')}`)
  const exit = await deliver({ text: accessList(register), out, check }, world)
  if (passwords !== undefined) await makeAccounts(all, { passwords, privateFile, renew, register }, world)
  else if (out !== undefined)
    world.stderr.write(`Name it in the broker's settings (acl_file ${out}) and make the accounts with --accounts.\n`)
  return exit
}

interface Making {
  /** The broker's password file. */
  readonly passwords: string
  readonly privateFile: string | undefined
  readonly renew: readonly string[]
  readonly register: Register
}

const userOf = (line: string): string => line.slice(0, line.indexOf(':'))

/** Adds the accounts that the broker's file lacks; a contact's password goes straight to the private header. */
async function makeAccounts(
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
  world.stderr.write(
    `The broker must be able to read ${file}: where it runs as a user of its own, chown it to that user.\n`,
  )
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
