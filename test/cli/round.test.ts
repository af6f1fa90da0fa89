import { mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Contact, contactFacts, wake } from '../../src/cli/begin/contact.ts'
import { linkTo } from '../../src/cli/broker/link.ts'
import { listenLive } from '../../src/cli/broker/listening.ts'
import { cli } from '../../src/cli/cli.ts'
import { accessList, accounts } from '../../src/emit/broker/access.ts'
import { takeLock } from '../../src/keeper/store/lock.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import { registerOf } from '../emit/houses.ts'
import { misfits } from '../support/json-output.ts'
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
    expect(misfits('round', world.said.stdout)).toEqual([])
    expect(JSON.parse(world.said.stdout)).toMatchObject({
      done: false,
      heard: [{ mark: 'W01' }],
      missing: [{ mark: 'W02' }],
    })
    const tally = fakeWorld({ cwd: folder })
    await cli(['tally', 'house.yaml', '--tally', 'tally.jsonl', '--json'], tally)
    const { readings } = JSON.parse(tally.said.stdout) as { readings: Reading[] }
    expect(readings.map(({ doubts, unheardOnWalk }) => [doubts, unheardOnWalk !== undefined])).toEqual([
      [[], false],
      [['untested'], true],
    ])
    expect((await entries()).map(({ mark, what, text: kind }) => [mark, what, kind])).toEqual([
      ['W01', 'opened', undefined],
      ['W01', 'round', 'heard'],
      ['W02', 'round', 'unheard'],
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
  test('a folder where a keeper is at work that is not live at this broker stops it before the first step', async () => {
    await mkdir(join(folder, 'taken'))
    const lock = takeLock(join(folder, 'taken'), '2026-01-01T00:00:00.000Z')
    const world = fakeWorld({ cwd: folder })
    expect(await cli(['round', 'house.yaml', '--yes', '--data', 'taken'], world)).toBe(3)
    lock.release()
    expect(world.said.stderr).toMatch(/a keeper is at work in taken, and none is live at this broker/)
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
  /** A keeper that is live, and answers the first says only. */
  async function poorKeeper(answers: number): Promise<{ leave(): Promise<void> }> {
    const beat = new Date().toISOString()
    const hand = linkTo(broker.mqttUrl, {})
    let left = answers
    await listenLive(hand, ['ropewalk/tally/say/+'], ({ payload }) => {
      if (left-- <= 0) return
      const { id } = JSON.parse(new TextDecoder().decode(payload)) as { id: string }
      void hand.publish(`ropewalk/tally/heard/${id}`, JSON.stringify({ v: 1, ok: false, problem: 'no such entry' }))
    })
    const keeper = 'ropewalk/tally/keeper'
    await hand.publish(keeper, JSON.stringify({ v: 1, state: 'live', beat, since: beat }), { retain: true })
    return {
      leave: async () => {
        await hand.publish(keeper, '', { retain: true })
        await hand.close()
      },
    }
  }
  test('a keeper that does not answer is told before the first step: exit 3', async () => {
    const keeper = await poorKeeper(0)
    const world = fakeWorld({ cwd: folder })
    const exit = await cli(['round', 'house.yaml', '--yes'], world)
    await keeper.leave()
    expect(exit).toBe(3)
    expect(world.said.stderr).toMatch(/no keeper of ropewalk\/tally answered.*SASHTALLY_USER=bench/)
    expect(world.said.stderr).not.toMatch(/next:/)
    expect(world.said.stdout).toBe('')
  })
  test('a keeper that answers no more at the end: the report is printed, then exit 3', async () => {
    const keeper = await poorKeeper(1)
    const world = fakeWorld({ cwd: folder })
    const walking = cli(['round', 'house.yaml', '--yes'], world)
    await until('the walk to begin', () => world.said.stderr.includes('next: W01'))
    await opens(0)
    await opens(1)
    const exit = await walking
    await keeper.leave()
    expect(exit).toBe(3)
    expect(world.said.stdout).toMatch(/heard 2, left out 0, not heard 0/)
    expect(world.said.stderr).toMatch(/kept for 0 of 2 openings only/)
    expect(world.said.stderr).toMatch(/no keeper of ropewalk\/tally answered/)
  })
  test('a wrong word, and a word on a wrong topic, are said at once', async () => {
    const world = fakeWorld({ cwd: folder })
    const walking = cli(['round', 'house.yaml', '--yes', '--tally', 'wrong.jsonl'], world)
    await until('the walk to begin', () => world.said.stderr.includes('next: W01'))
    const [first] = registerOf(text()).openings
    const port = { host: '127.0.0.1', port: broker.mqttPort }
    awake.push(await wake({ ...contactFacts(first!), opened: 'auf' }, port))
    await until('the wrong word', () => /W01 says "auf", and the register knows "opened"/.test(world.said.stderr))
    awake.push(await wake(contactFacts(first!), { ...port, topic: 'ropewalk/w10' }))
    await until('the topic', () => /"opened" came on "ropewalk\/w10", which is no topic/.test(world.said.stderr))
    world.interrupt()
    expect(await walking).toBe(1)
    expect(world.said.stdout).toMatch(/`sashtally say house.yaml W01 failed`, change the cell, and walk again/)
  })
  test('before anybody starts, it says what a walk must not cost', async () => {
    const world = fakeWorld({ cwd: folder, ask: async () => 'no' })
    expect(await cli(['round', 'house.yaml'], world)).toBe(1)
    expect(world.said.stderr).toMatch(/do not lean out.*no child near an open one.*Fire doors/)
  })
})

describe(haveMosquitto.title('what an account may do is tried first'), {
  skip: haveMosquitto.skip,
}, () => {
  let guarded: Mosquitto
  let folder: string
  const house = (url: string) => `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: '${url}' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: 1 }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Shop, sender: coin }
`
  const made = registerOf(house('mqtt://broker.lan'))
  beforeAll(async () => {
    const users = accounts(made).map(({ user }) => [user, `pass-${user}`])
    guarded = await Mosquitto.start({ accounts: Object.fromEntries(users), access: accessList(made) })
    folder = await mkdtemp(join(tmpdir(), 'sashtally-account-'))
    await writeFile(join(folder, 'house.yaml'), house(guarded.mqttUrl))
    for (const [user, password] of users) await writeFile(join(folder, user!), password!)
  })
  afterAll(async () => {
    await guarded?.close()
    await rm(folder, { recursive: true, force: true })
  })
  const as = (user: string) => ({ SASHTALLY_USER: user, SASHTALLY_PASSWORD_FILE: user })
  const walk = async (user: string, ...more: string[]) => {
    const world = fakeWorld({ cwd: folder, env: as(user) })
    const exit = await cli(['round', 'house.yaml', '--yes', '--minutes', '0.02', ...more], world)
    return { exit, ...world.said }
  }

  test('where not one word of the house is heard, nothing is noted', async () => {
    const { exit, stderr } = await walk('onlooker', '--tally', 'tally.jsonl')
    expect(exit).toBe(1)
    expect(stderr).toMatch(/note: not one word of a contact was heard yet/)
    expect(stderr).toMatch(/kept nowhere: not one word of the house was heard/)
    expect(await readFile(join(folder, 'tally.jsonl'), 'utf8').catch(() => 'no file')).toBe('no file')
  })

  test('beside a keeper: onlooker is stopped before the first step, bench walks and proves', async () => {
    const keeper = fakeWorld({ cwd: folder, env: as('keeper') })
    const keeping = cli(['keep', 'house.yaml', '--data', 'tally'], keeper)
    try {
      await until('the keeper', () => /keeping 2 openings/.test(keeper.said.stdout + keeper.said.stderr))
      const [opening] = made.openings
      const port = { host: '127.0.0.1', port: guarded.mqttPort, user: 'ropewalkw01', password: 'pass-ropewalkw01' }
      const opens = async () => void (await wake(contactFacts(opening!), port))
      await opens()
      const see = linkTo(guarded.mqttUrl, { username: 'direct', password: 'pass-direct' })
      let rested = false
      await listenLive(see, ['ropewalk/tally/opening/W01'], ({ payload }) => {
        rested ||= new TextDecoder().decode(payload).includes('"word":"rest"')
      })
      await until('the keeper to have heard the rest word', () => rested)
      await see.close()

      for (const user of ['onlooker', 'hand']) {
        const { exit, stderr } = await walk(user)
        expect(exit).toBe(3)
        expect(stderr).toMatch(
          /the keeper has heard W01, and the broker handed not one kept word.*SASHTALLY_USER=bench/,
        )
        expect(stderr).not.toMatch(/next:/)
      }
      // It may read, and not say: the keeper's answer is what is missing.
      const direct = await walk('direct')
      expect(direct).toMatchObject({ exit: 3, stdout: '' })
      expect(direct.stderr).toMatch(/A result could not be kept/)

      const bench = await walk('bench')
      expect(bench.exit).toBe(1)
      expect(bench.stderr).toMatch(/kept by the keeper/)
      const world = fakeWorld({
        cwd: folder,
        env: as('bench'),
        ask: async question => {
          if (/^(?:Does the lid|Is its cell out)/.test(question)) return 'yes'
          void opens()
          return ''
        },
      })
      expect(await cli(['prove', 'house.yaml', 'W01', '--times', '1', '--data', 'tally'], world)).toBe(0)
      expect(world.said.stdout).toMatch(/kept by the keeper/)
    } finally {
      keeper.interrupt()
      await keeping
    }
  })
})
