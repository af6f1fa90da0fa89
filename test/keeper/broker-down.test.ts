import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterEach, describe, expect, it } from 'vitest'
import { checkedClock } from '../../src/keeper/clock.ts'
import type { Journal } from '../../src/keeper/journal.ts'
import { LinkGaps } from '../../src/keeper/session/link-gaps.ts'
import type { LinkState } from '../../src/protocol/feed.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { type BenchHouse, HOUSE, seenShut } from './bench-house.ts'
import { TestClock } from './fake-broker.ts'
import { tempFolder } from './folder.ts'

const START = '2026-06-01T08:00:00.000Z'
const LAST_LIVE = Date.parse('2026-06-01T07:00:00.000Z')

/** What a keeper with a session tells the machine of each link. */
function gaps({ isHere = false, wasDown = false, up = 86_400_000, lastLive = LAST_LIVE as number | undefined } = {}) {
  const played: unknown[] = []
  const journal = {
    play: (event: unknown) => void played.push(event),
    forgetSession: (heardUntil: number | undefined) => void played.push({ kind: 'missed', heardUntil }),
    nextLink: () => {},
    remember: () => {},
  } as unknown as Journal
  const from = lastLive
  const made = new LinkGaps({
    ...{ journal, startedIso: START, startedBefore: undefined, hadSession: true, wasMended: false },
    clock: checkedClock({ ...new TestClock(START), up: () => up }, from),
    liveUntil: { at: lastLive },
    broker: { isHere, wasDown },
  })
  const link = (...states: Partial<LinkState>[]) => {
    for (const state of states) made.lost({ since: 0, state: 'down', ...state } as LinkState)
    made.began(true)
    return played.at(-1)
  }
  return { link, made, played }
}
const refused = { nobodyListens: true } as const
const WAITED = { kind: 'missed', queued: true, from: LAST_LIVE }
const UNHEARD = { kind: 'missed', queued: false, from: LAST_LIVE }

describe('what a kept session holds', () => {
  it('is all that was said where only the link was lost', () => {
    const { link } = gaps()
    expect(link({}, { why: 'a cable was pulled' }, { state: 'connecting' })).toEqual(WAITED)
  })

  it('is not all that happened where the broker was down, in that one gap', () => {
    const { link } = gaps()
    expect(link({}, refused, { why: 'no answer' })).toEqual(UNHEARD)
    expect(link({})).toEqual(WAITED)
  })

  it('is not all that happened where nothing listened before the first link', () => {
    const { link } = gaps({ wasDown: true })
    expect(link()).toEqual(UNHEARD)
    expect(link({})).toEqual(WAITED)
  })

  it('is not all that happened where this machine, and the broker on it, started since', () => {
    expect(gaps({ isHere: true, up: 60_000 }).link()).toEqual(UNHEARD)
    expect(gaps({ isHere: true }).link(), 'the keeper alone started').toEqual(WAITED)
    expect(gaps({ up: 60_000 }).link(), 'the broker is elsewhere').toEqual(WAITED)
    const behind = Date.parse(START) + 3_600_000
    expect(gaps({ isHere: true, lastLive: behind }).link(), 'by a clock that is behind').toEqual({
      ...UNHEARD,
      from: behind,
    })
  })

  it('is nothing where another client had it, whether the broker was down or not', () => {
    const { link } = gaps()
    expect(link({ taken: true }, refused)).toEqual({ kind: 'missed', heardUntil: LAST_LIVE })
  })
})

/** W01 was seen shut, and then nothing listened at the broker's address for so long. */
async function wentDown(seconds: number): Promise<BenchHouse> {
  const house = await seenShut()
  expect(plain(house)).toBe('closed')
  house.broker.stop()
  house.feed.dialInVain()
  await house.clock.pass(seconds)
  house.broker.start()
  await house.clock.pass(1)
  return house
}

const plain = (house: BenchHouse): string | undefined => house.broker.text('ropewalk/tally/plain/W01')

describe('a broker that was down and has kept the session', () => {
  it('leaves nothing certain that was seen shut before, until the next look', async () => {
    const house = await wentDown(24)
    expect(house.reading('W01')).toMatchObject({ position: 'closed', unheard: expect.any(String) })
    expect(plain(house)).toBe('not-certain')
    await house.person('W01', { id: 's2', what: 'seen-closed' })
    expect(plain(house)).toBe('closed')
  })

  it('hides nothing where it was away for less than a will takes', async () => {
    const house = await wentDown(2)
    expect(plain(house)).toBe('closed')
  })

  it('is seen at the next start where a power cut took it and the keeper at once', async () => {
    const house = await seenShut()
    const broker = { isHere: true, wasDown: false }
    house.kill()
    await house.clock.pass(60)
    await house.start({ broker })
    await house.clock.pass(1)
    expect(plain(house), 'the keeper alone was away').toBe('closed')
    house.kill()
    await house.clock.pass(60)
    const startedAt = house.clock.up()
    await house.clock.pass(20)
    await house.start({ broker, clock: { ...house.clock, up: () => house.clock.up() - startedAt } })
    await house.clock.pass(1)
    expect(plain(house)).toBe('not-certain')
  })
})

const undo: (() => unknown)[] = []
afterEach(async () => {
  for (const each of undo.splice(0).reverse()) await each()
})

describe(haveMosquitto.title('a real broker that ends orderly and starts again'), { skip: haveMosquitto.skip }, () => {
  it.each(['while the keeper looks on', 'while the keeper starts'])('leaves nothing certain, %s', async when => {
    const command = await builtCommand()
    undo.push(() => command.remove())
    const broker = await Mosquitto.start({ persistence: 'at-once' })
    undo.push(() => broker.close())
    const data = tempFolder()
    const register = join(data, 'house.yaml')
    const text = HOUSE.replace('mqtt://broker.lan:1883', broker.mqttUrl)
    writeFileSync(register, text.replace('keepAliveSeconds: 4, qos: 1', 'keepAliveSeconds: 1, qos: 1'))
    const keeper = new KeeperProcess(command.path, register, join(data, 'tally'))
    undo.push(() => keeper.kill())
    keeper.start()
    await keeper.live()
    const plain: string[] = []
    const contact = await mqtt.connectAsync(broker.mqttUrl, { reconnectPeriod: 50 })
    undo.push(() => contact.endAsync(true))
    contact.on('message', (_topic, payload) => void plain.push(payload.toString()))
    contact.on('error', () => {})
    await contact.subscribeAsync('ropewalk/tally/plain/W01')
    const look = (id: string) =>
      contact.publishAsync('ropewalk/tally/say/W01', JSON.stringify({ v: 1, id, what: 'seen-closed' }), { qos: 1 })
    await contact.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    await contact.publishAsync('ropewalk/w01', 'asleep', { qos: 1 })
    await until('the word', () => plain.at(-1) === 'may-be-open')
    await look('s1')
    await until('the look', () => plain.at(-1) === 'closed')
    const isAway = when === 'while the keeper starts'
    if (isAway) await keeper.kill()
    await broker.stop()
    if (isAway) keeper.start()
    await until('an attempt in vain', () => /ECONNREFUSED|nothing listens there/.test(keeper.log))
    await broker.start()
    await keeper.live()
    await until('the doubt', () => plain.at(-1) === 'not-certain')
    await look('s2')
    await until('the next look', () => plain.at(-1) === 'closed')
  })
})
