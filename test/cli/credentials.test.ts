import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { credentialsOf } from '../../src/cli/broker/credentials.ts'
import { fakeWorld } from '../support/world.ts'

it('a password file that others can read is warned of, and used', async () => {
  const cwd = mkdtempSync(join(tmpdir(), 'sashtally-credentials-'))
  const file = join(cwd, 'password')
  try {
    writeFileSync(file, 'secret\n')
    for (const [mode, warning] of [
      [0o644, 'password can be read by others: chmod 600 password\n'],
      [0o600, ''],
    ] as const) {
      chmodSync(file, mode)
      const world = fakeWorld({ cwd, env: { SASHTALLY_USER: 'keeper', SASHTALLY_PASSWORD_FILE: 'password' } })
      expect(await credentialsOf(world)).toEqual({ username: 'keeper', password: 'secret' })
      expect(world.said.stderr).toBe(warning)
    }
  } finally {
    rmSync(cwd, { recursive: true, force: true })
  }
})
