import { readFileSync, rmSync } from 'node:fs'
import { createServer } from 'node:net'
import { dirname } from 'node:path'
import { load } from 'js-yaml'
import { afterAll, describe, expect, test } from 'vitest'
import { seeded } from '../../src/budget/lives/draw.ts'
import { type Act, acts } from '../../src/cli/begin/demo-acts.ts'
import { DemoHouse } from '../../src/cli/begin/demo-house.ts'
import { cli } from '../../src/cli/cli.ts'
import { startBroker } from '../../src/link/broker.ts'
import { listen, stop } from '../../src/link/listen.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { listenTo } from '../support/ear.ts'
import { pause, until } from '../support/until.ts'
import { type FakeWorld, fakeWorld } from '../support/world.ts'

const { register } = parseRegister(readFileSync(new URL('../../examples/ropewalk.yaml', import.meta.url), 'utf8'))
if (!register) throw new Error('the example register has errors')

const take = (seed: number, many: number): { afterSeconds: number; act: Act }[] => {
  const day = acts(register, seeded(seed))
  return Array.from({ length: many }, () => day.next().value)
}

describe('the day of the demo', () => {
  test('is the same for the same seed, and another for another', () => {
    expect(take(7, 100)).toEqual(take(7, 100))
    expect(take(8, 100)).not.toEqual(take(7, 100))
  })

  test.each([1, 2, 3])('shows everything within its first twenty acts (seed %i)', seed => {
    const kinds = new Set(take(seed, 19).map(({ act }) => act.what))
    expect([...kinds].sort()).toEqual([
      'bounces',
      'dies',
      'opens',
      'passes',
      'rattles',
      'restart',
      'stays-open',
      'twins',
    ])
  })

  test('gives every contact only what its kind can do, and no dead cell another word', () => {
    const dead = new Set<string>()
    for (const { act, afterSeconds } of take(5, 2000)) {
      expect(afterSeconds).toBeGreaterThanOrEqual(0)
      if (act.what === 'restart') continue
      const opening = register.openings.find(each => each.mark === act.mark)
      const isDoor = ['passes', 'rattles', 'stays-open'].includes(act.what)
      expect(opening?.sender.reports).toBe(isDoor ? 'both' : 'openings')
      expect(dead.has(act.mark)).toBe(false)
      if (act.what === 'dies') dead.add(act.mark)
      if (act.what === 'twins') expect([dead.has(act.other), act.other === act.mark]).toEqual([false, false])
    }
    expect(dead.size).toBe(4)
  })
})

describe('the house of the demo', () => {
  const stopping = new AbortController()
  const started = (async () => {
    const broker = await startBroker()
    const told: string[] = []
    const house = new DemoHouse(broker, {
      register,
      random: seeded(1),
      speed: 100,
      tell: line => told.push(line),
      signal: stopping.signal,
    })
    const ear = listenTo({ url: broker.mqttUrl }, [...new Set(register.openings.map(each => each.topic))])
    await ear.listening()
    return { broker, told, house, ear }
  })()
  afterAll(async () => {
    const { house, ear } = await started
    stopping.abort()
    await ear.feed.close()
    await house.close()
  })
  const wordsOf = async (topics: readonly string[], from: number) =>
    (await started).ear.heard
      .slice(from)
      .filter(each => topics.includes(each.topic))
      .map(each => `${each.topic.slice(9)} ${each.text}`)

  test('has rest words of earlier days, and doors that are joined', async () => {
    const { house, ear, broker } = await started
    expect(await house.moveIn()).toEqual({ rest: 23, doors: 2 })
    await ear.nth(25)
    const late = listenTo({ url: broker.mqttUrl }, ['ropewalk/#'])
    await late.nth(25)
    expect(late.heard.every(each => each.retain)).toBe(true)
    expect(late.heard.filter(each => each.text === 'shut')).toHaveLength(2)
    await late.feed.close()
  })

  test('opens a window: its word, and the rest word when the broker gives it up', async () => {
    const { house, ear } = await started
    const from = ear.heard.length
    await house.play({ what: 'opens', mark: 'W01' })
    await until('both words', async () => (await wordsOf(['ropewalk/w01'], from)).length === 2)
    expect(await wordsOf(['ropewalk/w01'], from)).toEqual(['w01 opened', 'w01 asleep'])
    const [opened, rest] = ear.heard.slice(from)
    expect(rest!.at - opened!.at).toBeGreaterThan(1.5 * 4000 - 500)
    expect(opened!.retain || rest!.retain).toBe(false)
  })

  test('lets a cell die: the rest word alone', async () => {
    const { house, ear, told } = await started
    const from = ear.heard.length
    await house.play({ what: 'dies', mark: 'W04' })
    expect(told.at(-1)).toMatch(/^W04 Shop, corner: opened, but its cell died/)
    await until('the rest word', async () => (await wordsOf(['ropewalk/w04'], from)).length === 1)
    await pause(300)
    expect(await wordsOf(['ropewalk/w04'], from)).toEqual(['w04 asleep'])
  })

  test('has two contacts with one client id: the first one’s rest word comes at once', async () => {
    const { house, ear } = await started
    const from = ear.heard.length
    await house.play({ what: 'twins', mark: 'W05', other: 'W06' })
    await until('three words', async () => (await wordsOf(['ropewalk/w05', 'ropewalk/w06'], from)).length === 3)
    // Left to itself it would come after the other's word.
    expect(await wordsOf(['ropewalk/w05', 'ropewalk/w06'], from)).toEqual(['w05 opened', 'w05 asleep', 'w06 opened'])
  })

  test('sends JSON where the register says so, with a boot count that rises', async () => {
    const { house, ear } = await started
    const from = ear.heard.length
    await house.play({ what: 'bounces', mark: 'W10' })
    const words = await until('both words', () => {
      const heard = ear.heard.slice(from).filter(each => each.topic === 'ropewalk/w10' && each.text.includes('opened'))
      return heard.length === 2 && heard
    })
    const revision = register.openings.find(each => each.mark === 'W10')?.revision
    expect(words.map(each => JSON.parse(each.text))).toEqual(
      [1, 2].map(boots => ({ word: 'opened', boots, mv: expect.any(Number), rev: revision })),
    )
  })

  test('plays a door through, and plays nothing on a door that is busy', async () => {
    const { house, ear } = await started
    const from = ear.heard.length
    await Promise.all([house.play({ what: 'stays-open', mark: 'D02' }), house.play({ what: 'rattles', mark: 'D02' })])
    await until('both words', async () => (await wordsOf(['ropewalk/d02'], from)).length >= 2)
    await pause(100)
    expect(await wordsOf(['ropewalk/d02'], from)).toEqual(['d02 ajar', 'd02 shut'])
  })

  test('restarts its broker; the doors come back by themselves', async () => {
    const { house, ear } = await started
    const from = ear.heard.length
    await house.play({ what: 'restart' })
    await until('both doors', async () => (await wordsOf(['ropewalk/d01', 'ropewalk/d02'], from)).length >= 2)
    expect(new Set(await wordsOf(['ropewalk/d01', 'ropewalk/d02'], from))).toEqual(new Set(['d01 shut', 'd02 shut']))
    expect(ear.states.map(each => each.state)).toContain('down')
  })
})

describe('sashtally demo', () => {
  const started = async (...args: string[]): Promise<{ world: FakeWorld; ended: Promise<number>; folder: string }> => {
    const world = fakeWorld()
    const ended = cli(['demo', ...args], world)
    await Promise.race([until('the page', () => world.said.stdout.includes('Ctrl-C')), ended])
    const folder = dirname(/Written: (.+)/.exec(world.said.stdout)?.[1] ?? '/nowhere/x')
    return { world, ended, folder }
  }

  test('plays until Ctrl-C, and says where everything is', async () => {
    const { world, ended, folder } = await started('--port', '0', '--speed', '50', '--seed', '3')
    const { stdout } = world.said
    try {
      const [, mqttUrl, websocketUrl] = /Broker: (mqtt:\S+) and (ws:\S+)/.exec(stdout) ?? []
      const url = /The wall: (\S+)/.exec(stdout)?.[1] ?? ''
      const page = await (await fetch(url)).text()
      expect(await (await fetch(url, { headers: { 'accept-language': 'de' } })).text()).toContain('<html lang="de">')
      expect(page).toContain(`<sash-tally register="ropewalk.yaml" broker="${websocketUrl}" may-say>`)
      const served = parseRegister(await (await fetch(`${url}ropewalk.yaml`)).text())
      expect(served.register?.broker).toEqual({ mqtt: mqttUrl, websocket: websocketUrl })
      expect(served.register?.openings.map(each => each.revision)).toHaveLength(26)
      expect((await (await fetch(`${url}sash-tally.js`)).text()).length).toBeGreaterThan(50_000)
      const hub = load(readFileSync(`${folder}/bellframe.hub.yaml`, 'utf8')) as Record<string, unknown>
      expect(Object.keys(hub)).toHaveLength(26)
      const api = load(readFileSync(`${folder}/contacts.asyncapi.yaml`, 'utf8')) as { servers: object }
      expect(Object.keys(api.servers)).toHaveLength(26)
      const tally = fakeWorld()
      expect(await cli(['tally', `${folder}/ropewalk.yaml`, '--data', `${folder}/tally`, '--json'], tally)).toBe(0)
      const { readings } = JSON.parse(tally.said.stdout) as { readings: { doubts: string[]; unheard?: string }[] }
      // The newcomer, and the one whose cell is empty.
      expect(readings.filter(({ doubts }) => doubts.includes('untested'))).toHaveLength(2)
      expect(readings.filter(({ doubts }) => doubts.includes('spent'))).toHaveLength(1)
      expect(readings.filter(({ unheard }) => unheard !== undefined)).toEqual([])
      const ear = listenTo({ url: websocketUrl ?? '' }, ['ropewalk/#'])
      await until('a live word', () => ear.heard.some(each => !each.retain))
      await ear.feed.close()
      world.interrupt()
      expect(await ended).toBe(0)
      await expect(fetch(url)).rejects.toThrow()
      expect(world.said.stderr).toBe('')
    } finally {
      world.interrupt()
      await ended
      if (folder.includes('sashtally-demo-')) rmSync(folder, { recursive: true, force: true })
    }
  })

  test.each([0, 1, 2])('a taken port (%i after the first) is named, with what to do', async which => {
    // Below the ports that systems hand out by themselves.
    const first = 20_000 + Math.floor(Math.random() * 10_000)
    const holder = createServer()
    await listen(holder, first + which, '127.0.0.1')
    const { world, ended, folder } = await started('--port', String(first))
    expect(await ended).toBe(3)
    expect(world.said.stderr).toMatch(new RegExp(`port ${first + which} is taken.*sashtally demo --port \\d+`))
    await stop(holder)
    if (folder.includes('sashtally-demo-')) rmSync(folder, { recursive: true, force: true })
    const again = createServer()
    for (const port of [first, first + 1, first + 2]) {
      await listen(again, port, '127.0.0.1')
      await stop(again)
    }
  })

  test.each([
    ['--port', '70000'],
    ['--port', '80.5'],
    ['--port', 'http'],
    ['--speed', '0'],
    ['--speed', 'fast'],
    ['--seed', '-1'],
  ])('%s %s is wrong use', async (...args) => {
    const world = fakeWorld()
    expect(await cli(['demo', ...args], world)).toBe(2)
    expect(world.said.stderr).toContain(args[0])
    expect(world.said.stdout).toBe('')
  })
})
