import { rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, describe, expect, it } from 'vitest'
import { backUp } from '../../src/keeper/repair/backup.ts'
import { mendStore } from '../../src/keeper/repair/mend.ts'
import { TALLY_FILE } from '../../src/keeper/store/schema.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { pause, until } from '../support/until.ts'
import { BenchHouse, HOUSE, seenShut } from './bench-house.ts'
import { clientIdIn, tempFolder } from './folder.ts'

const LOOK = JSON.stringify({ v: 1, id: 's1', what: 'seen-closed' })

const undo: (() => unknown)[] = []
afterEach(async () => {
  for (const each of undo.splice(0).reverse()) await each()
})

/** W01 was seen shut a minute ago. */
async function quiet(): Promise<BenchHouse> {
  const house = await seenShut()
  await house.clock.pass(60)
  return house
}

const plain = (house: BenchHouse): string | undefined => house.broker.text('ropewalk/tally/plain/W01')
const waiting = (house: BenchHouse) => house.broker.sessions.get('keeper')!.out

/** Another client has the session for a moment, acknowledges what waits in it, and leaves it as it found it. */
function empty(house: BenchHouse): void {
  const session = house.broker.sessions.get('keeper')!
  session.client?.cut()
  session.out = []
}

describe('a session that ends in a seal', () => {
  it('says nothing while it is the keeper’s alone: over cuts, kills and orderly ends', async () => {
    const house = await quiet()
    expect(waiting(house)).toHaveLength(1)
    house.feed.cut()
    house.feed.join()
    await house.clock.pass(3)
    house.kill()
    await house.start()
    await house.clock.pass(3)
    house.kill()
    await house.start()
    const end = house.keeper.stop()
    await house.clock.pass(2)
    await end
    expect(waiting(house)).toHaveLength(1)
    await house.store.close()
    await house.start()
    await house.clock.pass(1_300)
    expect(waiting(house), 'one at a time, made anew').toHaveLength(1)
    expect(plain(house)).toBe('closed')
    expect(house.state()?.problem).toBeUndefined()
  })

  it('tells that another client took it, although no broker says so, while the keeper was connected', async () => {
    const house = await quiet()
    empty(house)
    house.broker.publish('ropewalk/w01', 'opened')
    empty(house)
    house.feed.join()
    await house.clock.pass(3)
    expect(plain(house)).toBe('not-certain')
    expect(house.state()?.problem).toMatch(/another client has had the session.*or this store is a copy from before/)
  })

  it('accuses nobody at a broker that sends again by the clock, and not at once on the next link', async () => {
    const house = await quiet()
    const session = house.broker.sessions.get('keeper')!
    house.feed.deliver(session, session.out[0]!)
    await house.clock.pass(10)
    expect(waiting(house), 'the seal is given up, and no other is made').toEqual([])
    house.feed.cut()
    house.feed.join()
    await house.clock.pass(10)
    expect(waiting(house)).toEqual([])
    expect(plain(house)).toBe('closed')
    expect(house.state()?.problem).toBeUndefined()
  })

  it('tells that another client took it while the keeper was dead', async () => {
    const house = await quiet()
    house.kill()
    house.broker.publish('ropewalk/w01', 'opened')
    empty(house)
    await house.start()
    expect(plain(house)).toBe('not-certain')
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    house.feed.cut()
    house.feed.join()
    await house.clock.pass(0.1)
    expect(plain(house), 'said once').toBe('closed')
  })

  it('tells it after an orderly end that came right after a word', async () => {
    const house = await quiet()
    await house.say('ropewalk/w02', 'opened')
    const end = house.keeper.stop()
    await house.clock.pass(2)
    await end
    await house.store.close()
    house.broker.publish('ropewalk/w01', 'opened')
    empty(house)
    await house.start()
    expect(plain(house)).toBe('not-certain')
  })

  it('says nothing of a kill in the middle of words, of which no seal is known', async () => {
    const house = await quiet()
    await house.say('ropewalk/w02', 'opened')
    house.kill()
    await house.start()
    expect(plain(house)).toBe('closed')
  })

  it('does not hold back words where the disk refuses', async () => {
    const house = await quiet()
    house.sql.exec('pragma query_only = 1')
    await house.say('ropewalk/w02', 'opened')
    house.feed.cut()
    house.feed.join()
    await house.clock.pass(10)
    expect(house.state()?.state).toBe('broken')
    house.sql.exec('pragma query_only = 0')
    await house.clock.pass(60)
    expect(house.entries('W02')).toHaveLength(1)
    expect(plain(house)).toBe('closed')
  })
})

describe('a session under a client id that this keeper never had', () => {
  it('makes what was shut not certain', async () => {
    const house = await quiet()
    house.store.commitBatch({ entries: [], facts: { seal: '' } })
    house.sql.exec("delete from facts where name in ('session', 'lastLive')")
    house.kill()
    await house.start()
    expect(plain(house)).toBe('not-certain')
  })

  it('is told by the first keeper of a store', async () => {
    const house = new BenchHouse()
    const other = house.broker.feed('keeper')
    other.open({ heard: () => {}, link: () => {} })
    await other.close()
    await house.start()
    expect(house.state()?.problem).toMatch(/session under this keeper's client id that this keeper never made/)
    house.kill()
    await house.start()
    await house.clock.pass(90_000)
    expect(house.state()?.problem).toBeUndefined()
  })
})

describe('a store that was put back from a backup', () => {
  it('takes the certainty from what was shut: what was acknowledged since is not in it', async () => {
    const house = await quiet()
    const backups = join(house.folder, 'backups')
    await house.say('ropewalk/w02', 'opened')
    await house.clock.pass(60)
    await backUp(house.store, backups, 14, house.clock.now())
    await house.say('ropewalk/w01', 'opened')
    await house.clock.pass(60)
    house.kill()
    rmSync(join(house.folder, TALLY_FILE))
    mendStore(house.folder, 'now', backups)
    await house.start()
    await house.clock.pass(60)
    expect(house.entries('W01').map(({ what }) => what)).toEqual(['opened', 'rest', 'seen-closed'])
    expect(plain(house)).toBe('not-certain')
    expect(house.state()?.problem ?? '', 'nobody else had the session').not.toMatch(/another client/)
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    house.kill()
    await house.start()
    expect(plain(house), 'said once').toBe('closed')
  })
})

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('a session at a real broker'), () => {
  it('that another client took and emptied while the keeper was dead is told', async () => {
    const { keeper, contact, plainOf, data, url } = await realHouse([])
    await contact.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    await contact.publishAsync('ropewalk/tally/say/W01', LOOK, { qos: 1 })
    await until('a look', () => plainOf('W01') === 'closed')
    await pause(2_000)
    await keeper.kill()
    keeper.start()
    await keeper.live()
    await pause(2_000)
    expect(keeper.log).not.toMatch(/another client/)
    await keeper.kill()
    await contact.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    const thief = mqtt.connect(url, { clientId: clientIdIn(data), clean: false })
    const stolen: string[] = []
    thief.on('message', topic => void stolen.push(topic))
    await until('the theft', () => stolen.includes('ropewalk/w01'))
    await thief.endAsync()
    keeper.start()
    await keeper.live()
    await until('the doubt', () => plainOf('W01') === 'not-certain')
    expect(keeper.log).toMatch(/another client has had the session/)
  })

  it('that hands out one message at a time is not sealed, and every word comes', async () => {
    const { keeper, contact, plainOf } = await realHouse(['max_inflight_messages 1'])
    await pause(3_000)
    await contact.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    await until('the word', () => plainOf('W01') === 'may-be-open', 20)
    await keeper.kill()
    keeper.start()
    await keeper.live()
    await contact.publishAsync('ropewalk/tally/say/W01', LOOK, { qos: 1 })
    await until('a look', () => plainOf('W01') === 'closed', 20)
    expect(keeper.log).not.toMatch(/another client/)
  })
})

async function realHouse(lines: string[]) {
  const command = await builtCommand()
  const broker = await Mosquitto.start({ lines })
  const folder = tempFolder()
  const [register, data] = [join(folder, 'house.yaml'), join(folder, 'data')]
  writeFileSync(register, HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
  const keeper = new KeeperProcess(command.path, register, data)
  const contact = await mqtt.connectAsync(broker.mqttUrl)
  const plains = new Map<string, string>()
  contact.on('message', (topic, text) => void plains.set(topic.slice(-3), text.toString()))
  await contact.subscribeAsync('ropewalk/tally/plain/+')
  undo.push(
    () => command.remove(),
    () => rmSync(folder, { recursive: true, force: true }),
    () => broker.close(),
    () => contact.endAsync(true),
    () => keeper.kill(),
  )
  keeper.start()
  await keeper.live()
  return { keeper, contact, data, url: broker.mqttUrl, plainOf: (mark: string) => plains.get(mark) }
}
