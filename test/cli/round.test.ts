import { mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Contact, contactFacts, wake } from '../../src/cli/begin/contact.ts'
import { linkTo } from '../../src/cli/broker/link.ts'
import { listenLive } from '../../src/cli/broker/listening.ts'
import { cli } from '../../src/cli/cli.ts'
import { takeLock } from '../../src/keeper/lock.ts'
import { registerOf } from '../emit/houses.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'

describe(haveMosquitto.title('round'), { skip: haveMosquitto.skip }, () => {
  let broker: Mosquitto
  let folder: string
  const awake: Contact[] = []
  const text = () => `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: '${broker.mqttUrl}' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: 1 }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Shop, sender: coin }
`
  beforeAll(async () => {
    broker = await Mosquitto.start()
    folder = await mkdtemp(join(tmpdir(), 'sashtally-round-'))
    await writeFile(join(folder, 'house.yaml'), text())
  })
  afterAll(async () => {
    for (const contact of awake) contact.drop()
    await broker?.close()
    await rm(folder, { recursive: true, force: true })
  })
  const entries = async () =>
    (await readFile(join(folder, 'tally.jsonl'), 'utf8'))
      .trim()
      .split('\n')
      .map(line => JSON.parse(line) as { mark: string; what: string; text?: string })

  test('ticks what arrives live, keeps the report, and an unfinished walk exits 1', async () => {
    const world = fakeWorld({ cwd: folder })
    const walking = cli(['round', 'house.yaml', '--yes', '--tally', 'tally.jsonl', '--json'], world)
    await until('the walk to begin', () => world.said.stderr.includes('next: W01'))
    expect(world.said.stderr).toMatch(/2 to open; it costs 2 sends of the cells/)
    awake.push(await wake(contactFacts(registerOf(text()).openings[0]!), { host: '127.0.0.1', port: broker.mqttPort }))
    await until('the tick', () => world.said.stderr.includes('W01 heard'))
    world.interrupt()
    expect(await walking).toBe(1)
    expect(JSON.parse(world.said.stdout)).toMatchObject({
      done: false,
      heard: [{ mark: 'W01' }],
      missing: [{ mark: 'W02' }],
    })
    expect((await entries()).map(({ mark, what, text: kind }) => [mark, what, kind])).toEqual([
      ['W01', 'opened', undefined],
      ['W01', 'round', 'heard'],
      ['W02', 'round', 'missing'],
    ])
  })
  test('what opened by itself since then can be left out; a finished walk exits 0', async () => {
    const at = new Date(Date.now()).toISOString()
    const natural = { id: 'natural', at, mark: 'W02', what: 'opened', how: 'live' }
    await writeFile(join(folder, 'tally.jsonl'), `${JSON.stringify(natural)}\n`, { flag: 'a' })
    const world = fakeWorld({ cwd: folder })
    const walking = cli(['round', 'house.yaml', '--yes', '--tally', 'tally.jsonl', '--leave-out-natural'], world)
    await until('the walk to begin', () => world.said.stderr.includes('next: W01'))
    expect(world.said.stderr).toMatch(/1 to open; it costs 1 send of the cells, 1 left out/)
    awake.push(await wake(contactFacts(registerOf(text()).openings[0]!), { host: '127.0.0.1', port: broker.mqttPort }))
    expect(await walking).toBe(0)
    expect(world.said.stdout).toMatch(/heard 1, left out 1, not heard 0/)
  })
  test('without a terminal it asks for --yes', async () => {
    expect(await cli(['round', 'house.yaml'], fakeWorld({ cwd: folder }))).toBe(2)
  })
  const opens = async (nth: number) => {
    const opening = registerOf(text()).openings[nth]!
    awake.push(await wake(contactFacts(opening), { host: '127.0.0.1', port: broker.mqttPort }))
  }
  test('a folder where a keeper is at work stops it before the first step', async () => {
    await mkdir(join(folder, 'taken'))
    const lock = takeLock(join(folder, 'taken'), '2026-01-01T00:00:00.000Z')
    const world = fakeWorld({ cwd: folder })
    expect(await cli(['round', 'house.yaml', '--yes', '--data', 'taken'], world)).toBe(3)
    lock.release()
    expect(world.said.stderr).toMatch(/a keeper is at work here.*leave --data out/)
    expect(world.said.stderr).not.toMatch(/next:/)
  })
  test('a tally that cannot be written stops it before the first step', async () => {
    const world = fakeWorld({ cwd: folder })
    expect(await cli(['round', 'house.yaml', '--yes', '--tally', 'no/such/t.jsonl'], world)).toBe(3)
    expect(world.said.stderr).toMatch(/cannot be written: there is no such file or folder/)
    expect(world.said.stderr).not.toMatch(/next:/)
  })
  test('a folder that a keeper takes meanwhile: the report is printed, then exit 3', async () => {
    const world = fakeWorld({ cwd: folder })
    const walking = cli(['round', 'house.yaml', '--yes', '--data', 'meanwhile'], world)
    await until('the walk to begin', () => world.said.stderr.includes('next: W01'))
    const lock = takeLock(join(folder, 'meanwhile'), '2026-01-01T00:00:00.000Z')
    await opens(0)
    await opens(1)
    expect(await walking).toBe(3)
    lock.release()
    expect(world.said.stdout).toMatch(/heard 2, left out 0, not heard 0/)
    expect(world.said.stderr).toMatch(/a keeper is at work here/)
  })
  test('a keeper that does not answer: the report is printed, then exit 3', async () => {
    const beat = new Date().toISOString()
    const hand = linkTo(broker.mqttUrl, {})
    await listenLive(hand, [], () => {})
    await hand.publish('ropewalk/tally/keeper', JSON.stringify({ v: 1, state: 'live', beat, since: beat }), {
      retain: true,
    })
    const world = fakeWorld({ cwd: folder })
    const walking = cli(['round', 'house.yaml', '--yes'], world)
    await until('the walk to begin', () => world.said.stderr.includes('next: W01'))
    await opens(0)
    await opens(1)
    const exit = await walking
    await hand.publish('ropewalk/tally/keeper', '', { retain: true })
    await hand.close()
    expect(exit).toBe(3)
    expect(world.said.stdout).toMatch(/heard 2, left out 0, not heard 0/)
    expect(world.said.stderr).toMatch(/kept for 0 of 2 openings only/)
    expect(world.said.stderr).toMatch(/no keeper of ropewalk\/tally answered/)
  })
})
