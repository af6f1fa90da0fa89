import { createServer } from 'node:net'
import { generate, type Packet } from 'mqtt-packet'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { WebSocketServer } from 'ws'
import { type Broker, startBroker } from '../../src/link/broker.ts'
import { listen, stop } from '../../src/link/listen.ts'
import { CONNECTIONS } from '../support/connections.ts'
import { Contact, coinFacts, wake } from '../support/contact.ts'
import { earsOver, listenTo } from '../support/ear.ts'
import { until } from '../support/until.ts'

describe.each(CONNECTIONS)('the broker inside, over $name connection', ({ connect }) => {
  let broker: Broker
  const { ear, close } = earsOver(connect())
  beforeAll(async () => {
    broker = await startBroker({
      authenticate: (user, password) => user === undefined || password === 'sesame',
      authorize: (act, topic, user) =>
        user === undefined || act === 'subscribe' ? !topic.includes('secret') : user === 'hand',
    })
  })
  afterAll(async () => {
    await close()
    await broker.close()
  })

  test.each(['mqttUrl', 'websocketUrl'] as const)('is reached by its %s with 3.1.1 after it refused 5', async kind => {
    const mark = kind.slice(0, 4)
    const listener = ear({ url: broker[kind] }, [`ropewalk/${mark}`])
    expect(await listener.live()).toMatchObject({ sessionPresent: false })
    expect(listener.states.map(each => each.state)).toEqual(['connecting', 'live'])
    await listener.listening()
    await wake(coinFacts(mark, { keepAliveSeconds: 1 }), { host: '127.0.0.1', port: broker.mqttPort })
    const word = await listener.nth(1)
    expect(word).toMatchObject({ text: 'opened', retain: false, packetId: expect.any(Number) })
    const will = await listener.nth(2)
    expect(will).toMatchObject({ text: 'asleep', retain: false })
    expect(will.at - word.at).toBeGreaterThan(1300)
    expect(await ear({ url: broker[kind] }, [`ropewalk/${mark}`]).nth(1)).toMatchObject({
      text: 'asleep',
      retain: true,
    })
  })

  test('where only 5 is asked for, the refusal is said', async () => {
    const listener = ear({ url: broker.mqttUrl, protocolVersion: 5 })
    await until('refused', () => listener.state() === 'refused')
    expect(listener.states.at(-1)).toMatchObject({ why: 'the broker does not speak this version of MQTT' })
  })

  test('a contact that dies between joining and its word leaves its rest word alone', async () => {
    const listener = ear({ url: broker.mqttUrl }, ['ropewalk/dead'])
    await listener.listening()
    const facts = coinFacts('dead', { keepAliveSeconds: 1 })
    await wake(facts, { host: '127.0.0.1', port: broker.mqttPort, diesBeforeWord: true })
    await listener.nth(1)
    expect(listener.heard.map(each => each.text)).toEqual(['asleep'])
  })

  test('a wrong password, and a filter that may not be read, are said', async () => {
    const stranger = ear({ url: broker.mqttUrl, username: 'wall', password: 'wrong' })
    await until('refused', () => stranger.state() === 'refused')
    expect(stranger.states.at(-1)).toMatchObject({
      why: 'the broker does not know this user name and password',
      account: true,
    })
    const curious = ear({ url: broker.mqttUrl, username: 'wall', password: 'sesame' }, [
      'ropewalk/w01',
      'ropewalk/secret',
    ])
    await until('refused', () => curious.state() === 'refused')
    expect(curious.states.at(-1)).toMatchObject({
      why: 'the broker does not let this account read ropewalk/secret',
      filters: ['ropewalk/secret'],
    })
    expect(curious.states.at(-1)).not.toHaveProperty('account')
    const times = curious.states.length
    curious.feed.listen(['ropewalk/w01'])
    curious.feed.listen(['ropewalk/w01', 'ropewalk/secret'])
    await until('the next refusal', () => curious.states.length > times)
  })

  test('a contact is told by its refusal, not by a hanging wait', async () => {
    const options = { host: '127.0.0.1', port: broker.mqttPort, user: 'w01', password: 'wrong' }
    await expect(Contact.join(coinFacts('w01'), options)).rejects.toThrow(/refused rww01: return code 4/)
  })

  test('a taken port is reported as the system reports it', async () => {
    await expect(startBroker({ mqttPort: broker.mqttPort })).rejects.toMatchObject({
      code: 'EADDRINUSE',
      port: broker.mqttPort,
    })
    await expect(startBroker({ websocketPort: broker.websocketPort })).rejects.toMatchObject({
      code: 'EADDRINUSE',
      port: broker.websocketPort,
    })
  })

  test('closing it puts everyone off and frees its ports', async () => {
    const first = await startBroker()
    const [plain, web] = [ear({ url: first.mqttUrl }), ear({ url: first.websocketUrl })]
    await Promise.all([plain.live(), web.live()])
    await first.close()
    await until('both down', () => plain.state() === 'down' && web.state() === 'down')
    const second = await startBroker({ mqttPort: first.mqttPort, websocketPort: first.websocketPort })
    await Promise.all([plain.live(), web.live()])
    await second.close()
  })
})

test.each(CONNECTIONS)('over WebSockets each packet of $name connection is one frame', async ({ connect }) => {
  const frames: number[] = []
  const server = new WebSocketServer({ port: 0, host: '127.0.0.1', handleProtocols: () => 'mqtt' })
  server.on('connection', socket =>
    socket.on('message', (bytes: Buffer) => {
      frames.push(bytes.length)
      if (frames.length === 1) socket.send(Buffer.from([0x20, 2, 0, 0]))
    }),
  )
  await until('the server', () => server.address())
  const listener = listenTo({
    url: `ws://127.0.0.1:${(server.address() as { port: number }).port}`,
    protocolVersion: 4,
    connect: connect(),
  })
  await listener.live()
  await listener.feed.publish('ropewalk/w01', 'opened', { qos: 0 })
  await until('both frames', () => frames.length >= 2)
  expect(frames).toEqual([expect.any(Number), 2 + 2 + 'ropewalk/w01'.length + 'opened'.length])
  await listener.feed.close()
  server.close()
})

describe.each(CONNECTIONS)('over $name connection', ({ connect }) => {
  test.each([
    [142, 'another client came with the same client id "wall1"'],
    [139, 'the broker is shutting down'],
    [152, 'the broker ended the link on its administrator’s word'],
  ])('the reason %i with which a broker of MQTT 5 ends the link is said', async (reasonCode, why) => {
    const bytes = (packet: Packet) => generate(packet, { protocolVersion: 5 })
    const server = createServer(socket => {
      socket.once('data', () => {
        socket.write(bytes({ cmd: 'connack', reasonCode: 0, sessionPresent: false }))
        socket.end(bytes({ cmd: 'disconnect', reasonCode }))
      })
    })
    const port = await listen(server, 0, '127.0.0.1')
    const listener = listenTo({ url: `mqtt://127.0.0.1:${port}`, clientId: 'wall1', connect: connect() })
    await until('down', () => listener.state() === 'down')
    expect(listener.states.at(-1)).toMatchObject({ why })
    expect('taken' in listener.states.at(-1)!).toBe(reasonCode === 142)
    await listener.feed.close()
    await stop(server)
  })
})
