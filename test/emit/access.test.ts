import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { accessList, accessProblems, accounts } from '../../src/emit/broker/access.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { pause } from '../support/until.ts'
import { ropewalk } from './houses.ts'

const register = ropewalk()
const { tally, openings } = register
const [w01, w02] = openings as [(typeof openings)[0], (typeof openings)[0]]

describe('names that an access list cannot hold', () => {
  const renamed = (client: string, topic = w01.topic) =>
    accessProblems({ ...register, openings: [{ ...w01, client, topic }] }).map(problem => problem.message)
  test('are told, each with what is wrong', () => {
    expect(renamed('rww01')).toEqual([])
    expect(renamed('keeper')[0]).toMatch(/name of a role/)
    expect(renamed('a\nuser hand')[0]).toMatch(/cannot be named/)
    expect(renamed('#x')[0]).toMatch(/cannot be named/)
    expect(renamed('rww01', 'a\ntopic #')[0]).toMatch(/cannot hold the topic/)
  })
})

describe(haveMosquitto.title('the access list on a real broker'), { skip: haveMosquitto.skip }, () => {
  let broker: Mosquitto
  beforeAll(async () => {
    const all = accounts(register).map(({ user }) => [user, `pass-${user}`])
    broker = await Mosquitto.start({ accounts: Object.fromEntries(all), access: accessList(register) })
  })
  afterAll(() => broker?.close())

  const connect = (user: string, password = `pass-${user}`) =>
    mqtt.connectAsync(broker.mqttUrl, {
      username: user,
      password,
      clientId: `t${user}${Math.random()}`.slice(0, 23),
      reconnectPeriod: 0,
    })

  /** Publishes as `writer`, and tells whether the keeper, or another reader, got it. */
  async function passes(writer: string, topic: string, reader = 'keeper', awaited = true): Promise<boolean> {
    const [from, to] = [await connect(writer), await connect(reader)]
    try {
      const got: string[] = []
      to.on('message', where => void got.push(where))
      await to.subscribeAsync(topic, { qos: 1 }).catch(() => undefined)
      await from.publishAsync(topic, 'x', { qos: 1 }).catch(() => undefined)
      // What may come is waited for; what may not has had its time.
      for (let waited = 0; waited < (awaited ? 60_000 : 150) && !got.includes(topic); waited += 10) await pause(10)
      return got.includes(topic)
    } finally {
      await from.endAsync(true)
      await to.endAsync(true)
    }
  }

  const say = `${tally}/say/${w01.mark}`
  const plain = `${tally}/plain/${w01.mark}`
  const rules: [writer: string, topic: string, reader: string, allowed: boolean][] = [
    [w01.client, w01.topic, 'keeper', true],
    [w01.client, w01.topic, 'direct', true],
    [w01.client, w01.topic, 'onlooker', false],
    [w01.client, w01.topic, w02.client, false],
    [w01.client, w02.topic, 'keeper', false],
    [w01.client, say, 'keeper', false],
    [w01.client, plain, 'keeper', false],
    ['keeper', plain, 'onlooker', true],
    ['keeper', plain, 'direct', true],
    ['keeper', plain, 'hand', true],
    ['keeper', plain, w01.client, false],
    ['keeper', w01.topic, 'direct', true],
    ['hand', say, 'keeper', true],
    ['hand', `${say}/more`, 'keeper', false],
    ['hand', plain, 'keeper', false],
    ['hand', w01.topic, 'keeper', false],
    ['onlooker', say, 'keeper', false],
    ['onlooker', plain, 'keeper', false],
    ['onlooker', w01.topic, 'keeper', false],
    ['bench', say, 'keeper', true],
    [w01.client, w01.topic, 'bench', true],
    ['keeper', plain, 'bench', true],
    ['bench', plain, 'keeper', false],
    ['bench', w01.topic, 'keeper', false],
    ['direct', say, 'keeper', false],
    ['direct', w01.topic, 'keeper', false],
    ['keeper', 'elsewhere', 'keeper', false],
  ]
  test.each(rules)('%s writes %s, %s reads it: %s', async (writer, topic, reader, allowed) => {
    expect(await passes(writer, topic, reader, allowed)).toBe(allowed)
  })

  test('every contact may write its own topic and no other contact’s', async () => {
    for (const [index, { client, topic }] of openings.entries()) {
      expect(await passes(client, topic), client).toBe(true)
      expect(await passes(client, openings[(index + 1) % openings.length]!.topic, 'keeper', false), client).toBe(false)
    }
  })
  test('a contact’s will goes out on its own topic', async () => {
    const keeper = await connect('keeper')
    const got: string[] = []
    keeper.on('message', (_topic, payload) => void got.push(payload.toString()))
    await keeper.subscribeAsync(w02.topic)
    const contact = await mqtt.connectAsync(broker.mqttUrl, {
      username: w02.client,
      password: `pass-${w02.client}`,
      clientId: w02.client,
      reconnectPeriod: 0,
      will: { topic: w02.topic, payload: Buffer.from('asleep'), qos: 1, retain: true },
    })
    contact.stream.destroy()
    for (let waited = 0; waited < 60_000 && got.length === 0; waited += 10) await pause(10)
    await keeper.endAsync(true)
    expect(got).toEqual(['asleep'])
  })
  test('nobody comes in without an account or with a wrong password', async () => {
    await expect(mqtt.connectAsync(broker.mqttUrl, { reconnectPeriod: 0 })).rejects.toThrow()
    await expect(connect('onlooker', 'wrong')).rejects.toThrow()
  })
})
