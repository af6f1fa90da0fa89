import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Contact, contactFacts, wake } from '../../src/cli/begin/contact.ts'
import { cli } from '../../src/cli/cli.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { registerOf } from '../emit/houses.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { type FakeWorld, fakeWorld } from '../support/world.ts'

describe(haveMosquitto.title('the bench beside a running keeper'), { skip: haveMosquitto.skip }, () => {
  let broker: Mosquitto
  let folder: string
  let keeper: FakeWorld
  let keeping: Promise<number>
  const awake: Contact[] = []
  const text = (keepAlive: number) => `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: '${broker.mqttUrl}' }
tally: ropewalk/tally
senders:
  coin:
    reports: openings
    cell: CR2032
    words: { opened: opened, rest: asleep }
    keepAliveSeconds: ${keepAlive}
    load: [{ milliamps: 75, milliseconds: 1000 }]
openings:
  - { mark: W01, name: Dye room, sender: coin }
`
  const opens = async () => {
    awake.push(await wake(contactFacts(registerOf(text(1)).openings[0]!), { host: '127.0.0.1', port: broker.mqttPort }))
  }
  beforeAll(async () => {
    broker = await Mosquitto.start()
    folder = await mkdtemp(join(tmpdir(), 'sashtally-beside-'))
    await writeFile(join(folder, 'house.yaml'), text(1))
    keeper = fakeWorld({ cwd: folder })
    keeping = cli(['keep', 'house.yaml', '--data', 'tally'], keeper)
    await until('the keeper', () => /keeping 1 opening/.test(keeper.said.stdout + keeper.said.stderr))
  })
  afterAll(async () => {
    keeper?.interrupt()
    await keeping
    for (const contact of awake) contact.drop()
    await broker?.close()
    await rm(folder, { recursive: true, force: true })
  })
  const entries = async (): Promise<Entry[]> => {
    const world = fakeWorld({ cwd: folder })
    expect(await cli(['export', 'house.yaml', '--data', 'tally', '--jsonl'], world)).toBe(0)
    return world.said.stdout
      .trim()
      .split('\n')
      .map(line => JSON.parse(line) as Entry)
  }

  const readings = async () => {
    const world = fakeWorld({ cwd: folder })
    expect(await cli(['tally', 'house.yaml', '--data', 'tally', '--json'], world)).toBe(0)
    return (JSON.parse(world.said.stdout) as { readings: Record<string, unknown>[] }).readings
  }

  test('prove says its result to the keeper, with the join time', async () => {
    const world = fakeWorld({
      cwd: folder,
      ask: async question => {
        if (!/^(?:Does the lid|Is its cell out)/.test(question)) void opens()
        return 'yes'
      },
    })
    expect(await cli(['prove', 'house.yaml', 'W01', '--times', '1'], world)).toBe(0)
    expect(world.said.stdout).toMatch(/kept by the keeper/)
    const all = await entries()
    const proved = all.find(({ what }) => what === 'proved')
    expect(proved).toMatchObject({ mark: 'W01', text: 'bench', joinMilliseconds: expect.any(Number) })
    // On a supply no cell sent anything: its words are the test's, and the test is over.
    const words = all.filter(({ what }) => what === 'opened' || what === 'rest')
    expect(words.length).toBeGreaterThan(1)
    expect(new Set(words.map(({ how }) => how))).toEqual(new Set(['tested']))
    const [reading] = await readings()
    expect(reading).toMatchObject({ mark: 'W01', openings: 0, sends: 0, position: 'no-word' })
    expect(reading).not.toHaveProperty('onTestUntil')
  })
  test('a proof on its cell is on no test: what it sent counts', async () => {
    const world = fakeWorld({
      cwd: folder,
      ask: async question => {
        if (!/^Does the lid/.test(question)) void opens()
        return 'yes'
      },
    })
    expect(await cli(['prove', 'house.yaml', 'W01', '--times', '1', '--power', 'cell'], world)).toBe(0)
    expect((await readings())[0]).toMatchObject({ openings: 1, sends: 1 })
  })
  test('round says its report to the keeper', async () => {
    const world = fakeWorld({ cwd: folder })
    const walking = cli(['round', 'house.yaml', '--yes'], world)
    await until('the walk to begin', () => world.said.stderr.includes('next: W01'))
    await opens()
    expect(await walking).toBe(0)
    expect((await entries()).find(({ what }) => what === 'round')).toMatchObject({ mark: 'W01', text: 'heard' })
  })
  test('what was flashed is kept fact by fact, and a later change is named', async () => {
    expect(await cli(['say', 'house.yaml', 'W01', 'flashed'], fakeWorld({ cwd: folder }))).toBe(0)
    await writeFile(join(folder, 'planned.yaml'), text(6))
    const world = fakeWorld({ cwd: folder })
    expect(await cli(['check', 'planned.yaml', '--data', 'tally'], world)).toBe(0)
    expect(world.said.stdout).toMatch(/W01 was flashed with keep-alive 1, the register says 6/)
    expect(await readFile(join(folder, 'house.yaml'), 'utf8')).toBe(text(1))
  })
})
