import { spawnSync } from 'node:child_process'
import { randomBytes } from 'node:crypto'
import { existsSync } from 'node:fs'
import { chmod, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { type Account, accessList, accessProblems, accounts } from '../../emit/broker/access.ts'
import { readText, writeWhole } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import type { Given } from '../program/command.ts'
import { EXIT, type Exit, Stop, type World } from '../world.ts'
import type * as commands from './commands.ts'
import { deliver } from './emit-deliver.ts'

/** The broker's own tool that hashes a file of names and passwords in place. */
const HASHER = 'mosquitto_passwd'

export async function run({ args: { file }, options }: Given<typeof commands.access>, world: World): Promise<Exit> {
  const { out, check, accounts: passwords, renew } = options
  if (passwords !== undefined && (check || out === undefined)) {
    throw new Stop(EXIT.usage, '--accounts writes passwords: use it with --out and without --check')
  }
  const register = await readRegister(file, world)
  const problems = accessProblems(register)
  if (problems.length) throw new Stop(EXIT.input, problems.map(({ message }) => message).join('\nsashtally: '))
  const all = accounts(register)
  const strangers = renew.filter(user => !all.some(account => account.user === user))
  if (strangers.length) throw new Stop(EXIT.usage, `no such account: ${strangers.join(', ')}`)
  const exit = await deliver({ text: accessList(register), out, check }, world)
  if (passwords !== undefined) await makeAccounts(all, passwords, renew, world)
  else if (out !== undefined) tellHow(out, world)
  return exit
}
function tellHow(out: string, world: World): void {
  world.stderr.write(`Name it in the broker's settings (acl_file ${out}) and make the accounts with --accounts.\n`)
}

/** Adds the accounts that the file lacks; passwords pass through a private temporary file, never through arguments. */
async function makeAccounts(
  all: readonly Account[],
  file: string,
  renew: readonly string[],
  world: World,
): Promise<void> {
  const old = existsSync(resolve(world.cwd, file)) ? await readText(file, world) : ''
  const kept = old.split('\n').filter(line => line !== '' && !renew.includes(line.slice(0, line.indexOf(':'))))
  const known = new Set(kept.map(line => line.slice(0, line.indexOf(':'))))
  const made = all
    .filter(({ user }) => !known.has(user))
    .map(({ user, what }) => ({ user, what, password: randomBytes(15).toString('base64url') }))
  const gone = [...known].filter(user => !all.some(account => account.user === user))
  if (made.length) {
    const hashed = await hash(made.map(({ user, password }) => `${user}:${password}\n`).join(''), world)
    await writeWhole(file, `${[...kept, ...hashed].join('\n')}\n`, world, 0o600)
    await chmod(resolve(world.cwd, file), 0o600)
    world.stdout.write('Passwords, shown this once:\n')
    const width = Math.max(...made.map(({ user }) => user.length))
    for (const { user, what, password } of made) world.stdout.write(`  ${user.padEnd(width)}  ${password}  ${what}\n`)
  } else world.stderr.write(`${file} has every account already.\n`)
  world.stderr.write(
    `The broker must be able to read ${file}: where it runs as a user of its own, chown it to that user.\n`,
  )
  if (gone.length)
    world.stderr.write(`${file} also holds accounts that the register does not know: ${gone.join(', ')}\n`)
}

async function hash(plain: string, world: World): Promise<string[]> {
  const folder = await mkdtemp(join(tmpdir(), 'sashtally-accounts-'))
  const file = join(folder, 'accounts')
  try {
    await writeFile(file, plain, { mode: 0o600 })
    const done = spawnSync(HASHER, ['-U', file], {
      encoding: 'utf8',
      env: { PATH: `${world.env.PATH ?? ''}:/usr/bin:/usr/sbin` },
    })
    if (done.status !== 0) {
      const why = done.error ? `${HASHER} is not here (Debian package mosquitto)` : done.stderr.trim()
      throw new Stop(EXIT.world, `the passwords could not be hashed, nothing was kept: ${why}`)
    }
    const lines = (await readFile(file, 'utf8')).split('\n').filter(Boolean)
    if (lines.some(line => !/^[^:]+:\$/.test(line))) {
      throw new Stop(EXIT.world, `${HASHER} left a password unhashed, nothing was kept`)
    }
    return lines
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}
