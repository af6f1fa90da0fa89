import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'
import { HOUSE } from './bench-house.ts'

it.skipIf(!haveMosquitto).each(['read', 'write'])(
  'a keeper whose account may only %s at a real broker says what it must be allowed',
  async may => {
    const broker = await Mosquitto.start({ accounts: { me: 'secret1' }, access: `user me\ntopic ${may} #\n` })
    const cwd = mkdtempSync(join(tmpdir(), 'sashtally-silent-'))
    try {
      writeFileSync(join(cwd, 'house.yaml'), HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
      writeFileSync(join(cwd, 'password'), 'secret1', { mode: 0o600 })
      const world = fakeWorld({ cwd, env: { SASHTALLY_USER: 'me', SASHTALLY_PASSWORD_FILE: 'password' } })
      const done = cli(['keep', 'house.yaml', '--data', 'data'], world)
      await until('the sentence', () => world.said.stderr)
      expect(world.said.stderr).toBe(
        'nothing comes back of what is published on ropewalk/tally/keeper/echo/+: the broker must let this account write and read ropewalk/tally/keeper/echo/+\n',
      )
      world.interrupt()
      expect(await done).toBe(0)
    } finally {
      await broker.close()
      rmSync(cwd, { recursive: true, force: true })
    }
  },
)
