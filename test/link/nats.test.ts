import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { connectNode } from '../../src/link/node/package-connection.ts'
import { earsOver } from '../support/ear.ts'
import { haveNats, NatsCluster } from '../support/nats.ts'
import { pause, until } from '../support/until.ts'

/** What `src/manual/cluster.md` says of nats-server 2.9.10, on three nodes. */
describe(haveNats.title('a cluster of nats-server'), { skip: haveNats.skip }, () => {
  let cluster: NatsCluster
  const ears = earsOver(connectNode())
  const kept = { clean: false, connectTimeoutSeconds: 30 } as const
  const at = (node: number) => ({ url: cluster.nodes[node]!.url, connectTimeoutSeconds: 30 })
  const client = (clientId: string) =>
    mqtt.connectAsync(cluster.nodes[0]!.url, { protocolVersion: 4, reconnectPeriod: 0, clientId })
  const endsAfter = async (clientId: string, topic: string, qos: 1 | 2) => {
    const one = await client(clientId)
    one.on('error', () => {})
    const closed = new Promise(done => one.once('close', () => done('closed')))
    const answer = one.publishAsync(topic, 'x', { qos }).then(
      () => 'acknowledged',
      () => closed,
    )
    const outcome = await Promise.race([answer, closed])
    one.end(true)
    return outcome
  }

  beforeAll(async () => {
    cluster = await NatsCluster.start()
  })
  afterAll(async () => {
    await ears.close()
    await cluster?.close()
  })

  test('refuses MQTT 5 with a code, and takes 3.1.1', async () => {
    await expect(mqtt.connectAsync(cluster.nodes[0]!.url, { protocolVersion: 5, reconnectPeriod: 0 })).rejects.toThrow(
      'Unacceptable protocol version',
    )
    expect((await ears.ear(at(0)).live()).sessionPresent).toBe(false)
  })

  test('a word and a will that one node took are heard at another, and kept at a third', async () => {
    const ear = ears.ear(at(1), ['ropewalk/w01'])
    await ear.listening()
    const contact = await mqtt.connectAsync(cluster.nodes[0]!.url, {
      protocolVersion: 4,
      reconnectPeriod: 0,
      will: { topic: 'ropewalk/w01', payload: Buffer.from('asleep'), qos: 1, retain: true },
    })
    await contact.publishAsync('ropewalk/w01', 'opened', { qos: 1 })
    contact.stream.destroy()
    await ear.nth(2)
    expect(ear.heard.map(({ text, retain }) => [text, retain])).toEqual([
      ['opened', false],
      ['asleep', false],
    ])
    const late = ears.ear(at(2), ['ropewalk/w01'])
    expect(await late.nth(1)).toMatchObject({ text: 'asleep', retain: true })
  })

  test('a session goes on at another node; what waited comes filter by filter, not in the order in which it was said', async () => {
    const clientId = 'ropewalkkeeper'
    const before = ears.ear({ ...at(0), ...kept, clientId }, ['order/w01', 'order/w02'])
    await before.listening()
    await before.feed.close()
    const speaker = ears.ear(at(1))
    await speaker.live()
    for (const turn of [1, 2, 3])
      for (const topic of ['order/w01', 'order/w02']) await speaker.feed.publish(topic, `${turn}`)
    const after = ears.ear({ ...at(2), ...kept, clientId })
    expect((await after.live()).sessionPresent).toBe(true)
    await after.nth(6)
    const said = (topic: string) => after.heard.filter(each => each.topic === topic).map(({ text }) => text)
    expect([said('order/w01'), said('order/w02')]).toEqual([
      ['1', '2', '3'],
      ['1', '2', '3'],
    ])
    expect(after.heard.every(({ dup, retain }) => !dup && !retain)).toBe(true)
  })

  test('overlapping filters deliver twice', async () => {
    const ear = ears.ear(at(0), ['twice/+', 'twice/w01'])
    await ear.listening()
    await ear.feed.publish('twice/w01', 'opened')
    await ear.nth(2)
  })

  test('an unacknowledged word comes again on the same link after 30 s, with DUP and its packet id, and not at once on the next', async () => {
    const clientId = 'ropewalkslow'
    const holds = ears.ear({ ...at(0), ...kept, clientId }, ['again/w01'], () => new Promise<void>(() => {}))
    await holds.listening()
    await holds.feed.publish('again/w01', 'opened')
    const first = await holds.nth(1)
    const second = await holds.nth(2, 90)
    expect([first.dup, second.dup, second.packetId]).toEqual([false, true, first.packetId])
    expect(second.at - first.at).toBeGreaterThan(25_000)
    // The other client throws it off, as a keeper that starts anew would.
    const next = ears.ear({ ...at(1), ...kept, clientId })
    expect((await next.live()).sessionPresent).toBe(true)
    void holds.feed.close()
    await pause(3_000)
    expect(next.heard).toEqual([])
    expect(await next.nth(1, 90)).toMatchObject({ text: 'opened' })
  })

  test.each([
    ['QoS 2', 'ropewalk/w02', 2],
    ['a topic with a dot', 'ropewalk/w.02', 1],
    ['a topic with a blank', 'ropewalk/w 02', 1],
  ] as const)('%s ends the connection', async (_, topic, qos) => {
    expect(await endsAfter(`ends${qos}${topic.length}`, topic, qos)).toBe('closed')
  })

  test('the wills of a node that is killed are not published', async () => {
    const ear = ears.ear(at(0), ['dead/w01'])
    await ear.listening()
    const [, node] = cluster.nodes
    const contact = await mqtt.connectAsync(node!.url, {
      protocolVersion: 4,
      reconnectPeriod: 0,
      keepalive: 1,
      will: { topic: 'dead/w01', payload: Buffer.from('asleep'), qos: 1, retain: true },
    })
    contact.on('error', () => {})
    await contact.publishAsync('dead/w01', 'opened', { qos: 1 })
    await ear.nth(1)
    await node!.kill()
    await pause(8_000)
    expect(ear.heard.map(({ text }) => text)).toEqual(['opened'])
    node!.start()
    await until('the node to be back', () => node!.isHealthy(), 120)
    await pause(2_000)
    expect(ear.heard.map(({ text }) => text)).toEqual(['opened'])
  })
})
