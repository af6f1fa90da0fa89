import { mkdirSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, describe, expect, it } from 'vitest'
import { policyOf } from '../../src/house/policy.ts'
import { filtersOf } from '../../src/keeper/publish/notes.ts'
import { olderClientId, sessionName } from '../../src/keeper/session/client-id.ts'
import { startSession, upTo } from '../../src/keeper/session/hand-over.ts'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { tallyTopics } from '../../src/protocol/topics.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { pause, until } from '../support/until.ts'
import { HOUSE, registerOf } from './bench-house.ts'
import { FakeBroker, settle, TestClock } from './fake-broker.ts'
import { clientIdIn, tempFolder } from './folder.ts'

const undo: (() => unknown)[] = []
afterEach(async () => {
  for (const each of undo.splice(0).reverse()) await each()
})

const TALLY = 'ropewalk/tally'

describe('the name of the keeper at the broker', () => {
  const inMemory = () => TallyStore.inMemory(ledgerRules(policyOf(registerOf())), [])

  it('is 22 letters and digits that every broker takes, made once and never the same', () => {
    const store = inMemory()
    const { clientId, older } = sessionName(store)
    expect(clientId).toMatch(/^[0-9A-Za-z]{22}$/)
    expect(older).toBeUndefined()
    expect(sessionName(store).clientId).toBe(clientId)
    const many = Array.from({ length: 50 }, () => sessionName(inMemory()).clientId)
    expect(new Set(many).size).toBe(50)
  })

  it('leaves an older session to be emptied where an earlier version kept the tally', () => {
    const store = inMemory()
    store.commitBatch({ entries: [], facts: { lastLive: '2026-06-01T08:00:00.000Z' } })
    expect(sessionName(store).older).toBe('waits')
    expect(sessionName(store).older, 'until that is done').toBe('waits')
  })
})

describe('a session that is handed over at a marker', () => {
  it('has every message once, before the marker at one and behind it at the other', async () => {
    const broker = new FakeBroker()
    const clock = new TestClock('2026-06-01T08:00:00.000Z')
    const topic = `${TALLY}/keeper/echo/m1`
    const heard: string[] = []
    let isReached = false
    const old = upTo(broker.feed('old'), topic, () => {
      isReached = true
    })
    old.listen(['ropewalk/w01', topic])
    old.open({ link: () => {}, heard: message => void heard.push(Buffer.from(message.payload).toString()) })
    broker.publish('ropewalk/w01', 'a')
    const publish = broker.publish.bind(broker)
    broker.publish = (to, ...rest) => {
      if (to === topic) publish('ropewalk/w01', 'b')
      publish(to, ...rest)
      if (to === topic) publish('ropewalk/w01', 'c')
    }
    const next = broker.feed('next')
    const started = startSession({ feed: next, filters: ['ropewalk/w01', topic], topic, text: '{}', clock }, 10_000)
    await clock.pass(1)
    expect(await started).toBe(true)
    publish('ropewalk/w01', 'd')
    await settle()
    expect(isReached).toBe(true)
    expect(heard).toEqual(['a', 'b'])
    const words = broker.sessions.get('next')!.out.filter(each => each.topic !== topic)
    const waiting = words.map(({ payload }) => Buffer.from(payload).toString())
    expect(waiting).toEqual(['c', 'd'])
  })

  it('is given up where the marker does not come back', async () => {
    const broker = new FakeBroker()
    const clock = new TestClock('2026-06-01T08:00:00.000Z')
    broker.publish = () => {}
    const feed = broker.feed('next')
    const started = startSession({ feed, filters: ['x'], topic: 'x', text: '{}', clock }, 10_000)
    await clock.pass(11)
    expect(await started).toBe(false)
    expect(feed.isClosed).toBe(true)
  })
})

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('a store of an earlier version'), () => {
  it('gets a session of its own: what waited and what comes meanwhile stands once, and nothing was missed', async () => {
    const command = await builtCommand()
    const broker = await Mosquitto.start()
    const folder = tempFolder()
    const register = join(folder, 'house.yaml')
    const data = join(folder, 'data')
    undo.push(
      () => command.remove(),
      () => broker.close(),
      () => rmSync(folder, { recursive: true, force: true }),
    )
    writeFileSync(register, HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl))
    mkdirSync(data)
    const older = TallyStore.open(data, 'write', ledgerRules(policyOf(registerOf())))
    const seen: Entry = { id: 's1', at: '2026-06-01T08:00:00.000Z', mark: 'W01', what: 'seen-closed', how: 'live' }
    // Just now: this machine, and the broker on it with it, may have started since an earlier time.
    older.commitBatch({ entries: [seen], facts: { lastLive: new Date().toISOString() } })
    await older.close()
    const clientId = olderClientId(TALLY)
    const before = await mqtt.connectAsync(broker.mqttUrl, { clientId, clean: false })
    await before.subscribeAsync(filtersOf(registerOf(), tallyTopics(TALLY), false), { qos: 1 })
    await before.endAsync()
    const contact = await mqtt.connectAsync(broker.mqttUrl)
    undo.push(() => contact.endAsync(true))
    let boots = 0
    const open = () =>
      contact.publishAsync('ropewalk/w03', JSON.stringify({ word: 'opened', boots: ++boots }), { qos: 1 })
    for (let n = 0; n < 50; n++) await open()
    const keeper = new KeeperProcess(command.path, register, data)
    undo.push(() => keeper.kill())
    keeper.start()
    const isMoved = () => (keeper.log.match(/keeping 4 openings/g) ?? []).length === 2
    while (!isMoved()) {
      keeper.mustRun()
      await open()
      await pause(5)
    }
    await open()
    const stored = () => {
      const store = TallyStore.open(data, 'read', ledgerRules({}))
      try {
        return [...store.entries()]
      } finally {
        void store.close()
      }
    }
    await until('the last word', () => stored().at(-1)?.boots === boots)
    const entries = stored()
    expect(entries.filter(({ mark, what }) => mark === 'W03' && what === 'opened').map(each => each.boots)).toEqual(
      Array.from({ length: boots }, (_, n) => n + 1),
    )
    expect(entries.filter(({ text }) => text === 'unheard')).toEqual([])
    const own = clientIdIn(data)
    expect(own).toMatch(/^[0-9A-Za-z]{22}$/)
    expect(keeper.log).not.toContain(own)
    let present: boolean | undefined
    const probe = mqtt.connect(broker.mqttUrl, { clientId, clean: false })
    probe.on('connect', ({ sessionPresent }) => {
      present = sessionPresent
    })
    await until('an answer', () => present !== undefined)
    expect(present, 'the older session').toBe(false)
    await probe.endAsync()
  })
})
