import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import type { LogLine } from '../../src/cli/json/log.ts'
import { startBroker } from '../../src/link/broker.ts'
import { linksTo } from '../../src/link/node/links.ts'
import { HOUSE } from '../keeper/bench-house.ts'
import { misfits } from '../support/json-output.ts'
import { freePort } from '../support/ports.ts'
import { until } from '../support/until.ts'
import { type FakeWorld, fakeWorld } from '../support/world.ts'

const PASSWORD = 'tar-and-oakum-7'

describe('the log of a keeper', () => {
  let folder: string
  let register: string
  let port: number
  let env: Record<string, string>
  beforeEach(async () => {
    folder = mkdtempSync(join(tmpdir(), 'sashtally-log-'))
    register = join(folder, 'house.yaml')
    port = await freePort()
    const password = join(folder, 'password')
    writeFileSync(password, `${PASSWORD}\n`, { mode: 0o600 })
    writeFileSync(
      register,
      HOUSE.replace(
        "mqtt: 'mqtt://broker.lan:1883'",
        `mqtt: 'mqtt://127.0.0.1:${port}', websocket: 'ws://127.0.0.1:9'`,
      ),
    )
    env = { SASHTALLY_USER: 'keeper', SASHTALLY_PASSWORD_FILE: password }
  })
  afterEach(() => rmSync(folder, { recursive: true, force: true }))

  const house = () =>
    startBroker({ mqttPort: port, authenticate: (user, password) => user === 'keeper' && password === PASSWORD })
  const linesOf = (world: FakeWorld): LogLine[] =>
    world.said.stdout
      .split('\n')
      .filter(line => line !== '')
      .map(line => JSON.parse(line))
  const codesOf = (world: FakeWorld) => linesOf(world).map(({ code }) => code)

  it('is one JSON object a line, from before there is a broker to the end, and holds no password', async () => {
    const world = fakeWorld({ env })
    const argv = ['serve', register, '--data', join(folder, 'data'), '--port', '0', '--log', 'json']
    const done = cli(argv, world)
    await until('the broker to be missed', () => codesOf(world).includes('link-down'))
    const page = /http\S+/.exec(linesOf(world)[0]!.text)![0]
    expect((await fetch(page)).status).toBe(200)
    expect((await fetch(`${page}healthz`)).status).toBe(503)

    const broker = await house()
    await until('the keeper to be at work', () => codesOf(world).includes('at-work'))
    await until('its health', async () => (await fetch(`${page}healthz`)).status === 200)
    const hand = linksTo(broker.mqttUrl, { username: 'keeper', password: PASSWORD }).link()
    await new Promise<void>(live => hand.open({ heard: () => {}, link: ({ state }) => state === 'live' && live() }))
    await hand.publish('ropewalk/tally/say/W01', 'no\u009bJSON')
    await until('the refusal', () => codesOf(world).includes('refused'))
    await hand.close()

    const second = fakeWorld({ env })
    const taken = ['keep', register, '--data', join(folder, 'data'), '--log', 'json']
    expect(await cli(taken, second)).toBe(3)
    expect(linesOf(second)).toMatchObject([
      { level: 'error', code: 'ended', text: expect.stringMatching(/a keeper is at work here/) },
    ])
    expect(second.said.stderr).toBe('')

    await broker.close()
    await until('the link to be missed', () => codesOf(world).filter(code => code === 'link-down').length > 1)
    world.interrupt()
    expect(await done).toBe(0)
    expect(world.said.stderr).toBe('')
    for (const line of world.said.stdout.trim().split('\n')) expect(misfits('log', line)).toEqual([])
    expect(codesOf(world).slice(0, 2)).toEqual(['page', 'link-down'])
    expect(world.said.stdout + second.said.stdout).not.toContain(PASSWORD)
    // biome-ignore lint/suspicious/noControlCharactersInRegex: that none of them is there is what is looked at
    expect(world.said.stdout).not.toMatch(/[\u0000-\u0009\u000b-\u001f\u007f-\u009f]/)
  })

  it('as text has its time first, and the end on standard error', async () => {
    const world = fakeWorld({ env })
    const done = cli(['keep', register, '--data', join(folder, 'data')], world)
    await until('the broker to be missed', () => world.said.stdout.includes('no broker at'))
    expect(world.said.stdout).toMatch(/^\d{4}-\d\d-\d\dT[\d:]{8}\.\d{3}Z {2}no broker at mqtt:/)
    const second = fakeWorld({ env })
    expect(await cli(['keep', register, '--data', join(folder, 'data')], second)).toBe(3)
    expect(second.said).toEqual({ stdout: '', stderr: expect.stringMatching(/^sashtally: .*a keeper is at work here/) })
    world.interrupt()
    expect(await done).toBe(0)
  })
})
