import { spawnSync } from 'node:child_process'
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { EXIT, Stop, type World } from '../world.ts'

/** The broker's own tool that hashes a file of names and passwords in place. */
const HASHER = 'mosquitto_passwd'

/**
 * Lines of a broker's password file; what is hashed passes through a private temporary file, never through arguments.
 * @throws Stop exit 3 when the tool is missing or leaves a password as it is
 */
export async function hashPasswords(passwords: ReadonlyMap<string, string>, world: World): Promise<string[]> {
  const folder = await mkdtemp(join(tmpdir(), 'sashtally-accounts-'))
  const file = join(folder, 'accounts')
  try {
    const plain = [...passwords].map(([user, password]) => `${user}:${password}\n`).join('')
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
