import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { describe, expect, it } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { fakeWorld } from '../support/world.ts'
import { BenchHouse, HOUSE, registerOf } from './bench-house.ts'
import { clientIdIn } from './folder.ts'

const noted = (house: BenchHouse, mark = 'W01'): Entry[] =>
  [...house.store.entries()].filter(entry => entry.text === 'unheard' && entry.mark === mark)

/** W01 was opened, rested and seen shut; D01 says itself that it is shut; W02 was opened. */
async function seenShut(register = registerOf()): Promise<BenchHouse> {
  const house = new BenchHouse()
  house.register = register
  await house.start()
  await house.say('ropewalk/w01', 'opened')
  await house.say('ropewalk/w02', 'opened')
  await house.say('ropewalk/d01', 'shut', { retain: true })
  await house.clock.pass(6)
  await house.say('ropewalk/w01', 'asleep', { retain: true })
  await house.clock.pass(60)
  await house.person('W01', { id: 's1', what: 'seen-closed' })
  await house.clock.pass(60)
  expect(house.reading('W01')?.position).toBe('closed')
  return house
}

describe('a session that the broker has forgotten', () => {
  it('takes its list of messages along, also when its first transaction holds no message to remember', async () => {
    const house = new BenchHouse()
    house.broker.publish('ropewalk/w01', 'asleep', { retain: true, qos: 0 })
    await house.start()
    for (let n = 0; n < 5; n++) await house.say('ropewalk/w02', 'opened')
    expect(house.store.taken().length).toBeGreaterThan(3)
    house.kill()
    house.broker.sessions.clear()
    await house.start()
    expect(house.store.taken()).toEqual([])
    const { acked } = house.feed
    await house.say('ropewalk/w02', 'opened')
    expect(house.state()?.state).toBe('live')
    expect(house.entries('W02')).toHaveLength(6)
    expect(house.feed.acked).toBe(acked + 1)
  })

  it('never lets a first delivery with DUP pass for a message of the session before', async () => {
    const house = new BenchHouse()
    house.broker.publish('ropewalk/w01', 'asleep', { retain: true, qos: 0 })
    await house.start()
    for (let n = 0; n < 9; n++) await house.say('ropewalk/w02', 'opened')
    house.kill()
    house.broker.sessions.clear()
    await house.start()
    house.kill()
    // It waits for the dead keeper, and reaches the next one only at the second try.
    const session = house.broker.sessions.get('keeper')!
    session.packetId = 2
    house.broker.publish('ropewalk/w02', 'opened')
    session.out.at(-1)!.dup = true
    await house.start()
    expect(house.entries('W02')).toHaveLength(10)
  })

  it.skipIf(!haveMosquitto)('leaves the keeper of a real broker at work', async () => {
    const broker = await Mosquitto.start()
    const cwd = mkdtempSync(join(tmpdir(), 'sashtally-sessions-'))
    const contact = await mqtt.connectAsync(broker.mqttUrl)
    const states: { state: string; problem?: string }[] = []
    contact.on('message', (_topic, text) => void states.push(JSON.parse(text.toString())))
    try {
      writeFileSync(join(cwd, 'house.yaml'), HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
      await contact.publishAsync('ropewalk/w01', 'asleep', { retain: true, qos: 0 })
      await contact.subscribeAsync('ropewalk/tally/keeper')
      const run = (...argv: string[]) => {
        const world = fakeWorld({ cwd })
        return { world, done: cli(argv, world) }
      }
      const keep = async () => {
        const from = states.length
        const keeper = run('keep', 'house.yaml', '--data', 'data')
        await until('the keeper', () => states.slice(from).some(({ state }) => state === 'live'))
        return keeper
      }
      const first = await keep()
      for (const note of ['one', 'two']) {
        expect(await run('say', 'house.yaml', 'W02', 'note', '--note', note).done).toBe(0)
      }
      first.world.interrupt()
      expect(await first.done).toBe(0)
      const clientId = clientIdIn(join(cwd, 'data'))
      const other = await mqtt.connectAsync(broker.mqttUrl, { clientId, clean: true })
      await other.endAsync()
      const second = await keep()
      expect(await run('say', 'house.yaml', 'W01', 'seen-closed').done).toBe(0)
      expect(states.at(-1)?.state).toBe('live')
      second.world.interrupt()
      expect(await second.done).toBe(0)
    } finally {
      await contact.endAsync()
      await broker.close()
      rmSync(cwd, { recursive: true, force: true })
    }
  })
})

describe('a time in which nobody listened', () => {
  it('is noted for what somebody had seen shut, before the words that come after it', async () => {
    const house = await seenShut()
    house.broker.stop({ forget: true })
    await house.clock.pass(3600)
    house.broker.start()
    await house.clock.pass(1)
    expect(noted(house)).toMatchObject([
      { mark: 'W01', what: 'note', how: 'live', by: 'sashtally', at: '2026-06-01T09:02:06.010Z' },
    ])
    expect(house.reading('W01')).toMatchObject({ position: 'closed', unheard: '2026-06-01T09:02:06.010Z' })
    expect(house.broker.text('ropewalk/tally/plain/W01')).toBe('not-certain')
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    expect(house.broker.text('ropewalk/tally/plain/W01')).toBe('closed')
  })

  it('is over for a contact of both edges once it is heard, be it by the word that the broker kept', async () => {
    const house = await seenShut()
    house.broker.stop()
    house.broker.sessions.clear()
    await house.clock.pass(3600)
    house.broker.start()
    await house.clock.pass(1)
    expect(noted(house, 'D01')).toHaveLength(1)
    expect(house.reading('D01')).toMatchObject({ position: 'closed' })
    expect(house.reading('D01')).not.toHaveProperty('unheard')
    house.broker.stop({ forget: true })
    await house.clock.pass(3600)
    house.broker.start()
    await house.clock.pass(1)
    expect(house.reading('D01')).toMatchObject({ position: 'closed', unheard: expect.any(String) })
    await house.say('ropewalk/d01', 'shut', { retain: true })
    expect(house.reading('D01')).not.toHaveProperty('unheard')
  })

  it('is noted at the start of a keeper whose session is gone', async () => {
    const house = await seenShut()
    house.kill()
    house.broker.sessions.clear()
    await house.clock.pass(60)
    await house.start()
    expect(noted(house)).toMatchObject([{ mark: 'W01', at: '2026-06-01T08:03:06.010Z' }])
  })

  it('is noted once while nothing else is heard of the opening', async () => {
    const house = await seenShut()
    for (let n = 0; n < 5; n++) {
      house.broker.stop({ forget: true })
      await house.clock.pass(60)
      house.broker.start()
      await house.clock.pass(1)
    }
    expect(noted(house)).toHaveLength(1)
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    house.broker.stop({ forget: true })
    house.broker.start()
    await house.clock.pass(1)
    expect(noted(house)).toHaveLength(2)
  })

  it('comes behind a word from before it that was still on its way to the disk', async () => {
    const house = await seenShut()
    house.broker.publish('ropewalk/w01', 'opened')
    house.broker.stop({ forget: true })
    house.broker.start()
    await house.clock.pass(1)
    expect(noted(house)).toEqual([])
    expect(house.reading('W01')).toMatchObject({ position: 'open' })
  })

  it('was one for a contact at QoS 0 although the broker has kept the session, unless a last will tells of it', async () => {
    const house = await seenShut(
      registerOf(HOUSE.replace('keepAliveSeconds: 4, qos: 1', 'keepAliveSeconds: 60, qos: 0')),
    )
    const away = async (seconds: number) => {
      house.broker.stop()
      await house.clock.pass(seconds)
      house.broker.start()
      await house.clock.pass(1)
    }
    await away(2)
    expect(noted(house)).toEqual([])
    await away(3600)
    expect(noted(house)).toHaveLength(1)
    expect(noted(house, 'D01'), 'heard at QoS 1').toEqual([])
    expect(house.broker.text('ropewalk/tally/plain/W01')).toBe('not-certain')
  })

  it('was none where the broker has kept the session', async () => {
    const house = await seenShut()
    house.broker.stop()
    await house.clock.pass(60)
    house.broker.start()
    await house.clock.pass(1)
    house.kill()
    await house.start()
    expect(noted(house)).toEqual([])
    expect(house.broker.text('ropewalk/tally/plain/W01')).toBe('closed')
  })

  it('was none before the first start of a new store', async () => {
    const house = new BenchHouse()
    await house.start()
    expect([...house.store.entries()]).toEqual([])
  })

  it('is noted where another client had the session, although the broker has kept it', async () => {
    const house = await seenShut()
    house.feed.cut({ taken: true })
    house.feed.join()
    await house.clock.pass(1)
    expect(noted(house)).toHaveLength(1)
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    house.feed.cut()
    house.feed.join()
    await house.clock.pass(1)
    expect(noted(house)).toHaveLength(1)
  })

  it('is noted where the broker came back from an older store, with the session and all', async () => {
    const house = await seenShut()
    const older = structuredClone([...house.broker.retained])
    await house.clock.pass(600)
    house.broker.stop()
    house.broker.retained.clear()
    for (const [topic, payload] of older) house.broker.retained.set(topic, payload)
    house.broker.start()
    await house.clock.pass(1)
    expect(noted(house)).toHaveLength(1)
    expect(house.state()?.problem).toMatch(/came back from an older store/)
  })

  it('is noted where a broker came back from an older store while the keeper was down', async () => {
    const house = await seenShut()
    const older = structuredClone([...house.broker.retained])
    await house.clock.pass(1_200)
    house.kill()
    await house.clock.pass(60)
    house.broker.retained.clear()
    for (const [topic, payload] of older) house.broker.retained.set(topic, payload)
    await house.start()
    expect(noted(house)).toHaveLength(1)
    house.kill()
    await house.clock.pass(60)
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    await house.start()
    expect(house.reading('W01'), 'the will is no older store').not.toHaveProperty('unheard')
  })

  it('is noted where a queue that may have run over was handed over', async () => {
    const house = await seenShut()
    house.kill()
    for (let n = 0; n < 1_000; n++) house.broker.publish('ropewalk/w02', 'opened')
    await house.start()
    expect(noted(house)).toHaveLength(1)
  })

  it('is noted of a line that was put back, also where keepers came and went meanwhile', async () => {
    const house = await seenShut()
    const whole = house.register
    const edit = async (register = whole) => {
      house.register = register
      house.keeper.adopt(register)
      await house.clock.pass(1)
    }
    const without = registerOf(HOUSE.replace("  - { mark: W01, name: 'Dye room', sender: coin }\n", ''))
    await edit(without)
    house.kill()
    await house.start()
    expect(house.reading('W01')).toBeUndefined()
    house.kill()
    house.register = whole
    await house.start()
    expect(noted(house)).toHaveLength(1)
    expect(noted(house, 'D01')).toEqual([])
    expect(house.reading('W01')?.unheard).toBeDefined()
  })

  it('ends for a line that was put back before the tally is counted again for it', async () => {
    const house = await seenShut()
    const whole = house.register
    house.keeper.adopt(registerOf(HOUSE.replace("  - { mark: W02, name: 'Loft', sender: coin }\n", '')))
    await house.clock.pass(1)
    house.keeper.adopt(whole)
    house.broker.publish('ropewalk/w02', 'opened')
    await house.clock.pass(1)
    expect(house.entries('W02').filter(({ what }) => what === 'opened')).toHaveLength(2)
    expect(house.reading('W02')).toMatchObject({ openings: 2 })
  })

  it('was one for a rename that is undone: what was heard before it is counted, and what was shut is not certain', async () => {
    const house = await seenShut()
    const whole = house.register
    const renamed = HOUSE.replace('mark: W01, name', 'mark: W11, was: [W01], name').replace(
      'mark: W02, name',
      'mark: W12, was: [W02], name',
    )
    house.keeper.adopt(registerOf(renamed))
    await house.clock.pass(1)
    expect(house.reading('W12')).toMatchObject({ position: 'opened', openings: 1 })
    await house.say('ropewalk/w11', 'opened')
    house.keeper.adopt(whole)
    await house.clock.pass(1)
    expect(house.reading('W02')).toMatchObject({ position: 'opened', openings: 1 })
    expect(house.reading('W01')).toMatchObject({ position: 'closed', openings: 1, unheard: expect.any(String) })
  })

  it('is measured anew when a clock that started wrong is set', async () => {
    const house = await seenShut(
      registerOf(HOUSE.replace('keepAliveSeconds: 4, qos: 1', 'keepAliveSeconds: 60, qos: 0')),
    )
    house.kill()
    await house.clock.pass(3_600)
    house.clock.set(-3_600_000)
    await house.start()
    expect(noted(house), 'by that clock it was away for a moment').toEqual([])
    house.clock.set(3_600_000)
    await house.clock.pass(31)
    expect(noted(house)).toHaveLength(1)
    expect(house.reading('W01')?.unheard).toBeDefined()
  })

  it.each([0, 30])(
    'looks no shorter where the clock was set back in it, %i s before the link was back',
    async later => {
      const house = await seenShut(
        registerOf(HOUSE.replace('keepAliveSeconds: 4, qos: 1', 'keepAliveSeconds: 60, qos: 0')),
      )
      house.broker.stop()
      await house.clock.pass(540 - later)
      house.clock.set(-538_000)
      await house.clock.pass(later)
      house.broker.start()
      await house.clock.pass(1)
      expect(noted(house)).toMatchObject([{ mark: 'W01' }])
      expect(house.reading('W01')?.unheard).toBeDefined()
    },
  )

  it('looks no shorter where a clock that had been ahead is believed in it, and the keeper dies', async () => {
    const house = await seenShut(
      registerOf(HOUSE.replace('keepAliveSeconds: 4, qos: 1', 'keepAliveSeconds: 60, qos: 0')),
    )
    const ahead = 30 * 86_400_000
    house.clock.set(ahead)
    await house.clock.pass(60)
    house.kill()
    house.broker.isUp = false
    house.clock.set(-ahead)
    await house.start()
    await house.clock.pass(86_430)
    house.kill()
    house.broker.isUp = true
    await house.start()
    await house.clock.pass(1)
    expect(noted(house)).toHaveLength(1)
    expect(house.state(), 'the clock is believed').not.toHaveProperty('problem')
    await house.say('ropewalk/w02', 'opened')
    expect(house.entries('W02').at(-1)).toMatchObject({ how: 'live' })
  })

  it('is noted of a topic that the broker does not let the keeper read, and again when it may', async () => {
    const house = await seenShut()
    house.broker.unreadable.add('ropewalk/w01').add('ropewalk/d01')
    house.broker.stop()
    await house.clock.pass(30)
    house.broker.start()
    await house.clock.pass(1)
    expect(noted(house)).toMatchObject([{ mark: 'W01', at: '2026-06-01T08:02:36.010Z' }])
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    house.broker.unreadable.clear()
    await house.clock.pass(400)
    expect(noted(house)).toHaveLength(2)
    expect(house.reading('D01')).toMatchObject({ position: 'closed' })
    expect(house.reading('D01'), 'its kept word has come').not.toHaveProperty('unheard')
    expect(house.state()?.problem).toBeUndefined()
    await house.say('ropewalk/w01', 'opened')
    expect(house.reading('W01')).toMatchObject({ position: 'open' })
  })
})

describe('a topic that the broker does not let the keeper read', () => {
  it('is named in what the keeper says of itself, until it may be read', async () => {
    const house = new BenchHouse()
    for (const mark of ['w01', 'w02', 'w03', 'd01']) house.broker.unreadable.add(`ropewalk/${mark}`)
    await house.start()
    const problem =
      'the broker does not let this account read ropewalk/w01, ropewalk/w02, ropewalk/w03, ropewalk/d01: nothing there is heard; mend its access list'
    expect(house.state()).toMatchObject({ state: 'live', problem })
    await house.clock.pass(3600)
    expect(house.state()).toMatchObject({ state: 'live', problem })
    expect(house.told.filter(line => line === problem)).toHaveLength(1)
    house.broker.unreadable.delete('ropewalk/w02')
    await house.clock.pass(400)
    expect(house.state()?.problem).toMatch(/read ropewalk\/w01, ropewalk\/w03, ropewalk\/d01: nothing/)
    house.broker.unreadable.clear()
    house.broker.stop()
    house.broker.start()
    await house.clock.pass(1)
    expect(house.state()?.problem).toBeUndefined()
    expect(house.state()?.state).toBe('live')
  })

  it('is named no more when the register has it no more', async () => {
    const house = new BenchHouse()
    house.broker.unreadable.add('ropewalk/w02')
    await house.start()
    expect(house.state()?.problem).toMatch(/ropewalk\/w02/)
    house.keeper.adopt(registerOf(HOUSE.replace("  - { mark: W02, name: 'Loft', sender: coin }\n", '')))
    await house.clock.pass(1)
    expect(house.state()?.problem).toBeUndefined()
  })
})
