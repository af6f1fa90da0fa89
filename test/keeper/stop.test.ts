import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { openSqlite } from '../../src/keeper/store/sqlite.ts'
import { startBroker } from '../../src/link/broker.ts'
import { listenTo } from '../support/ear.ts'
import { pause, until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'
import { HOUSE } from './bench-house.ts'

it('a keeper whose store another program holds locked ends all the same, without an error', async () => {
  const broker = await startBroker()
  const cwd = mkdtempSync(join(tmpdir(), 'sashtally-stop-'))
  const ear = listenTo({ url: broker.mqttUrl }, ['ropewalk/tally/keeper'])
  const state = () => (ear.heard.length > 0 ? JSON.parse(ear.heard.at(-1)!.text) : {})
  try {
    writeFileSync(join(cwd, 'house.yaml'), HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
    const world = fakeWorld({ cwd })
    const done = cli(['keep', 'house.yaml', '--data', 'data'], world)
    await until('the keeper', () => state().state === 'live')
    const other = openSqlite(join(cwd, 'data', 'tally.sqlite'), 'write')
    other.exec('begin immediate')
    await ear.feed.publish('ropewalk/w01', 'opened')
    await until('the trouble', () => state().state === 'broken')
    expect(state().problem).toMatch(/another program holds it locked/)
    world.interrupt()
    // It waits for no lock: that is let go afterwards.
    expect(await done).toBe(0)
    expect(world.said.stderr).toBe('')
    other.exec('rollback')
    other.close()
    // Nothing is tried any more: it would be an uncaught error of this process.
    await pause(2_500)
  } finally {
    await ear.feed.close()
    await broker.close()
    rmSync(cwd, { recursive: true, force: true })
  }
})
