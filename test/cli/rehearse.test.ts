import { spawn } from 'node:child_process'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { accessList, accounts } from '../../src/emit/broker/access.ts'
import { fillPrivate, privateHeader } from '../../src/emit/firmware/private-header.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseReading, type ReadingNote } from '../../src/protocol/reading.ts'
import { registerOf } from '../emit/houses.ts'
import { builtCommand } from '../support/built.ts'
import { type Ear, listenTo } from '../support/ear.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { type FakeWorld, fakeWorld } from '../support/world.ts'

const house = (url: string) => `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: '${url}' }
tally: ropewalk/tally
bounceSeconds: 0
senders:
  coin:
    reports: openings
    cell: CR2032
    words: { opened: opened, rest: asleep }
    keepAliveSeconds: 1
    load: [{ milliamps: 75, milliseconds: 300 }]
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost }, keepAliveSeconds: 1 }
openings:
  - { mark: W01, name: Dye room, sender: coin }
  - { mark: W02, name: Shop, sender: coin }
  - { mark: D01, name: Street door, sender: yard }
`

describe(haveMosquitto.title('rehearse'), { skip: haveMosquitto.skip }, () => {
  let broker: Mosquitto
  let folder: string
  let ear: Ear
  beforeAll(async () => {
    broker = await Mosquitto.start()
    folder = await mkdtemp(join(tmpdir(), 'sashtally-rehearse-'))
    await writeFile(join(folder, 'house.yaml'), house(broker.mqttUrl))
    ear = listenTo({ url: broker.mqttUrl }, ['ropewalk/#'])
    await ear.live()
  })
  afterAll(async () => {
    await ear?.feed.close()
    await broker?.close()
    await rm(folder, { recursive: true, force: true })
  })

  /** Starts a rehearsal; it ends when the test has seen enough. */
  function start(...argv: string[]): { world: FakeWorld; ended: Promise<number>; words(topic: string): string[] } {
    const from = ear.heard.length
    const world = fakeWorld({ cwd: folder })
    return {
      world,
      ended: cli(['rehearse', 'house.yaml', ...argv], world),
      words: topic => ear.heard.slice(from).flatMap(each => (each.topic === topic && !each.retain ? [each.text] : [])),
    }
  }

  describe('without a keeper', () => {
    test('it says what it will do to walls, and asks', async () => {
      const refused = fakeWorld({ cwd: folder, ask: async () => 'no' })
      expect(await cli(['rehearse', 'house.yaml', 'W01'], refused)).toBe(1)
      expect(refused.said.stdout).toMatch(/walls that count for themselves will show what is played as real openings/)
      const unasked = fakeWorld({ cwd: folder })
      expect(await cli(['rehearse', 'house.yaml', 'W01'], unasked)).toBe(2)
      expect(unasked.said.stderr).toMatch(/--yes/)
      expect(ear.heard.filter(({ topic }) => topic === 'ropewalk/w01')).toEqual([])
    })

    test('contacts say what their headers say, and the broker the rest', async () => {
      const { world, ended, words } = start('W01', 'd01', '--yes')
      await until('the rest word', () => words('ropewalk/w01').includes('asleep'))
      await until('the door', () => words('ropewalk/d01').length > 0)
      world.interrupt()
      expect(await ended).toBe(0)
      expect(words('ropewalk/w01').slice(0, 2)).toEqual(['opened', 'asleep'])
      // The door was shut, its last will came at the end, and nothing stood there before.
      await until('its topic to be cleared', () => words('ropewalk/d01').at(-1) === '')
      expect(words('ropewalk/d01').at(-2)).toBe('lost')
      expect(words('ropewalk/d01')[0]).toBe('shut')
      // What is heard comes by another way than what was done, so other lines may stand in between.
      expect(world.said.stdout).not.toContain('on test')
      expect(world.said.stdout).toMatch(/W01 says opened\n(.*\n)*.*W01 is heard: opened/)
      expect(world.said.stdout).toMatch(/The rehearsal is over\. The broker keeps of W01 and D01 what it kept before/)
    })

    test('a dead cell: only the rest word', async () => {
      const mains = fakeWorld({ cwd: folder })
      expect(await cli(['rehearse', 'house.yaml', 'D01', '--yes', '--fault', 'dead-cell'], mains)).toBe(2)
      expect(mains.said.stderr).toMatch(/D01 has none/)
      const { world, ended, words } = start('W02', '--yes', '--fault', 'dead-cell')
      await until('the rest word', () => words('ropewalk/w02').length > 0)
      world.interrupt()
      expect(await ended).toBe(0)
      expect(words('ropewalk/w02')[0]).toBe('asleep')
    })

    test('a wrong topic: nothing on its own', async () => {
      const { world, ended, words } = start('W02', '--yes', '--fault', 'wrong-topic')
      await until('its rest word', () => words('ropewalk/w02-elsewhere').includes('asleep'))
      world.interrupt()
      expect(await ended).toBe(0)
      expect(words('ropewalk/w02-elsewhere').slice(0, 2)).toEqual(['opened', 'asleep'])
      expect(words('ropewalk/w02')).toEqual([])
      expect(world.said.stdout).toMatch(/a word on ropewalk\/w02-elsewhere, which is no contact’s topic/)
      const late = listenTo({ url: broker.mqttUrl }, ['ropewalk/w01', 'ropewalk/w02-elsewhere'])
      await late.nth(1, 20)
      await late.feed.close()
      expect(late.heard.map(({ topic }) => topic)).toEqual(['ropewalk/w01'])
      expect(world.said.stdout).toMatch(/The broker keeps of W02 what it kept before/)
    })

    test('an acknowledgement that does not arrive: the word is said once more', async () => {
      const { world, ended, words } = start('W02', '--yes', '--fault', 'no-acknowledgement')
      await until('both words', () => words('ropewalk/w02').filter(word => word === 'opened').length === 2)
      world.interrupt()
      expect(await ended).toBe(0)
      // Its own connection ended in between, so that the broker said the will.
      expect(words('ropewalk/w02').slice(0, 3)).toEqual(['opened', 'asleep', 'opened'])
    })

    test('a last will that is not retained: a new listener is given nothing of it', async () => {
      const clear = listenTo({ url: broker.mqttUrl }, [])
      await clear.live()
      await clear.feed.publish('ropewalk/w02', '', { retain: true })
      await clear.feed.close()
      const { world, ended, words } = start('W02', '--yes', '--fault', 'will-not-retained')
      await until('the rest word', () => words('ropewalk/w02').includes('asleep'))
      world.interrupt()
      expect(await ended).toBe(0)
      const late = listenTo({ url: broker.mqttUrl }, ['ropewalk/w01', 'ropewalk/w02'])
      await late.nth(1, 20)
      await late.feed.close()
      expect(late.heard.map(({ topic }) => topic)).toEqual(['ropewalk/w01'])
    })

    test('what stood at the broker before stands there again, also after a fault and a Ctrl-C', async () => {
      const kept = async (topic: string): Promise<string | undefined> => {
        const late = listenTo({ url: broker.mqttUrl }, [topic])
        await late.listening()
        await late.feed.close()
        return late.heard[0]?.text
      }
      const stand = listenTo({ url: broker.mqttUrl }, [])
      await stand.live()
      for (const [fault, before] of [
        ['will-not-retained', 'ajar'],
        [undefined, 'shut'],
        [undefined, ''],
      ] as const) {
        await stand.feed.publish('ropewalk/d01', before, { retain: true })
        const { world, ended, words } = start('D01', 'W01', '--yes', ...(fault ? ['--fault', fault] : []))
        await until('the door', () => words('ropewalk/d01').includes('shut'))
        world.interrupt()
        expect(await ended).toBe(0)
        expect(world.said.stdout).toMatch(/the broker keeps the last played word of D01 until its contact speaks/)
        expect([fault, (await kept('ropewalk/d01')) ?? '']).toEqual([fault, before])
        expect(await kept('ropewalk/w01'), 'a rest word stays').toBe('asleep')
      }
      await stand.feed.close()
    })

    test.each([
      ['a last will that is not retained leaves no door behind as shut', 'will-not-retained', 'before', 'lost'],
      ['a door that spoke itself is not put back to shut', undefined, 'before', 'lost'],
      ['the last word of the door itself stays', 'will-not-retained', 'after', 'ajar'],
    ] as const)('%s', async (_, fault, speaks, stands) => {
      const door = listenTo({ url: broker.mqttUrl }, [])
      await door.live()
      await door.feed.publish('ropewalk/d01', 'shut', { retain: true })
      const { world, ended, words } = start('D01', '--yes', ...(fault ? ['--fault', fault] : []))
      if (speaks === 'before') await until('the play', () => world.said.stdout.includes('D01 has power'))
      else await until('the door', () => words('ropewalk/d01').includes('shut'))
      await door.feed.publish('ropewalk/d01', 'ajar', { retain: true })
      await until('both', () => ['shut', 'ajar'].every(word => words('ropewalk/d01').includes(word)))
      expect(words('ropewalk/d01')).toEqual(speaks === 'before' ? ['ajar', 'shut'] : ['shut', 'ajar'])
      world.interrupt()
      expect(await ended).toBe(0)
      expect(world.said.stdout).toMatch(/The rehearsal is over\.\nOf D01 words came that were not played/)
      const late = listenTo({ url: broker.mqttUrl }, ['ropewalk/d01'])
      expect((await late.nth(1, 20)).text).toBe(stands)
      await late.feed.close()
      await door.feed.publish('ropewalk/d01', '', { retain: true })
      await door.feed.close()
    })

    test('one client id twice: the second throws the first off', async () => {
      const alone = fakeWorld({ cwd: folder })
      expect(await cli(['rehearse', 'house.yaml', 'D01', '--yes', '--fault', 'twin-client-id'], alone)).toBe(2)
      const { world, ended, words } = start('D01', 'W02', '--yes', '--fault', 'twin-client-id')
      await until('the door to be thrown off', () => words('ropewalk/d01').includes('lost'))
      await until('the window', () => words('ropewalk/w02').includes('opened'))
      world.interrupt()
      expect(await ended).toBe(0)
    })

    test('a slow join: the word comes long after its kind is said to need', async () => {
      const { world, ended, words } = start('W02', '--yes', '--fault', 'slow-join')
      await until('it to have power', () => world.said.stdout.includes('W02 has power'))
      const from = Date.now()
      await until('the word', () => words('ropewalk/w02').includes('opened'))
      expect(Date.now() - from).toBeGreaterThan(5000)
      world.interrupt()
      expect(await ended).toBe(0)
    })

    test('a broker that asks for passwords: each contact comes in with its own', async () => {
      const made = registerOf(house('mqtt://broker.lan'))
      const users = accounts(made).map(({ user }) => [user, `p "${user}" \\ é`] as const)
      const guarded = await Mosquitto.start({ accounts: Object.fromEntries(users), access: accessList(made) })
      try {
        await writeFile(join(folder, 'guarded.yaml'), house(guarded.mqttUrl))
        const passwords = new Map(made.openings.map(({ mark, client }) => [mark, new Map(users).get(client)!]))
        await writeFile(join(folder, 'private.h'), fillPrivate(privateHeader(made), passwords))
        await writeFile(join(folder, 'bench'), new Map(users).get('bench')!)
        const env = { SASHTALLY_USER: 'bench', SASHTALLY_PASSWORD_FILE: 'bench' }
        const rehearse = (...more: string[]) => {
          const world = fakeWorld({ cwd: folder, env })
          return { world, ended: cli(['rehearse', 'guarded.yaml', 'W01', '--yes', ...more], world) }
        }
        const without = rehearse()
        expect(await without.ended).toBe(3)
        expect(without.world.said.stderr).toMatch(/refused ropewalkw01.*--private/)
        const { world, ended } = rehearse('--private', 'private.h')
        await until('the word', () => world.said.stdout.includes('W01 is heard: opened'))
        world.interrupt()
        expect(await ended).toBe(0)
        expect(world.said.stdout + world.said.stderr).not.toMatch(/p "ropewalk/)
      } finally {
        await guarded.close()
      }
    })
  })

  describe('with a keeper', () => {
    let keeper: FakeWorld
    let keeping: Promise<number>
    let watcher: Ear
    const reading = (mark: string): ReadingNote | undefined => {
      const last = watcher.heard.findLast(({ topic }) => topic === `ropewalk/tally/opening/${mark}`)
      return last && parseReading(last.text)
    }
    const entries = async (): Promise<Entry[]> => {
      const world = fakeWorld({ cwd: folder })
      expect(await cli(['export', 'house.yaml', '--data', 'tally', '--jsonl'], world)).toBe(0)
      return world.said.stdout
        .trim()
        .split('\n')
        .filter(Boolean)
        .map(line => JSON.parse(line) as Entry)
    }
    beforeAll(async () => {
      keeper = fakeWorld({ cwd: folder })
      keeping = cli(['keep', 'house.yaml', '--data', 'tally'], keeper)
      await until('the keeper', () => /keeping 3 openings/.test(keeper.said.stdout + keeper.said.stderr))
      watcher = listenTo({ url: broker.mqttUrl }, ['ropewalk/tally/opening/+'])
      await watcher.live()
    })
    afterAll(async () => {
      await watcher?.feed.close()
      keeper?.interrupt()
      await keeping
    })

    test('it puts them on test first: their words are kept and count nothing, and the hub hears them', async () => {
      const before = { w01: reading('W01'), d01: reading('D01') }
      const { world, ended, words } = start('W01', 'D01')
      await until('the test', () => reading('W01')?.onTestUntil && reading('D01')?.onTestUntil)
      await until('the rest word', () => words('ropewalk/w01').includes('asleep'))
      await until('the door to be opened', () => words('ropewalk/d01').includes('ajar'))
      world.interrupt()
      expect(await ended).toBe(0)
      expect(world.said.stdout).toMatch(/\nW01 and D01: on test at the keeper, so what is played counts nothing\.\n/)
      await until('the end of the test', () => !reading('W01')?.onTestUntil && !reading('D01')?.onTestUntil)
      expect(reading('W01')).toMatchObject({ openings: before.w01?.openings ?? 0, sends: before.w01?.sends ?? 0 })
      expect(reading('D01')).toMatchObject({ openings: before.d01?.openings ?? 0 })
      const played = (await entries()).filter(({ what }) => ['opened', 'closed', 'rest', 'gone'].includes(what))
      const live = played.filter(({ how }) => how !== 'retained')
      expect(live.length).toBeGreaterThan(3)
      expect(new Set(live.map(({ how }) => how))).toEqual(new Set(['tested']))
      // The last wills came before the end of the test was said.
      expect(live.map(({ what }) => what)).toContain('gone')
    })

    test('killed, it leaves no test behind: that ends by itself within minutes', async () => {
      const built = await builtCommand()
      try {
        const child = spawn(process.execPath, [built.path, 'rehearse', 'house.yaml', 'W02'], {
          cwd: folder,
          stdio: 'ignore',
        })
        const ended = new Promise(done => child.once('exit', done))
        await until('the test', () => reading('W02')?.onTestUntil)
        const { onTestUntil } = reading('W02')!
        child.kill('SIGKILL')
        await ended
        expect(Date.parse(onTestUntil!) - Date.now()).toBeLessThanOrEqual(3 * 60_000)
      } finally {
        built.remove()
      }
    })

    test('ended by SIGTERM it ends the test itself', async () => {
      const built = await builtCommand()
      try {
        const child = spawn(process.execPath, [built.path, 'rehearse', 'house.yaml', 'D01'], {
          cwd: folder,
          stdio: 'ignore',
        })
        const ended = new Promise(done => child.once('exit', done))
        await until('the test', () => reading('D01')?.onTestUntil)
        child.kill('SIGTERM')
        expect(await ended).toBe(0)
        await until('the end of the test', () => !reading('D01')?.onTestUntil)
      } finally {
        built.remove()
      }
    })
  })
})
