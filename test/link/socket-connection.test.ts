import { generate, type Packet, parser } from 'mqtt-packet'
import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import type { Ended } from '../../src/link/connection.ts'
import type { Version } from '../../src/link/mqtt/packet.ts'
import type { SocketEvents } from '../../src/link/mqtt/socket.ts'
import { SocketConnection } from '../../src/link/mqtt/socket-connection.ts'
import type { Heard } from '../../src/protocol/feed.ts'

beforeEach(() => void vi.useFakeTimers())
afterEach(() => void vi.useRealTimers())

interface Start {
  readonly version?: Version
  readonly heard?: (message: Heard) => void | Promise<void>
  readonly connack?: Partial<Packet>
}

/** A connection to a broker that the test plays, over a socket without a network. */
async function start({ version = 4, heard = () => {}, connack = {} }: Start = {}) {
  const sent: Packet[] = []
  const frames: number[] = []
  const ends: Ended[] = []
  let live = 0
  let state: 'open' | 'ended' | 'destroyed' = 'open'
  let events: SocketEvents | undefined
  const reference = parser({ protocolVersion: version })
  reference.on('packet', packet => sent.push(packet))
  const connection = new SocketConnection(
    'ws://ropewalk.example',
    (_url, given) => {
      events = given
      return {
        send: bytes => {
          frames.push(bytes.length)
          reference.parse(Buffer.from(bytes))
        },
        end: () => {
          state = 'ended'
        },
        destroy: () => {
          state = 'destroyed'
        },
      }
    },
    { version, timeoutMilliseconds: 10_000, clientId: 'wall', clean: true, keepAliveSeconds: 30 },
    { live: () => live++, heard, ended: how => void ends.push(how) },
  )
  const turn = () => vi.advanceTimersByTimeAsync(0)
  const broker = async (...packets: Partial<Packet>[]) => {
    for (const packet of packets) events!.bytes(generate(packet as Packet, { protocolVersion: version }))
    await turn()
  }
  events!.open()
  await turn()
  if (connack)
    await broker({ cmd: 'connack', returnCode: 0, reasonCode: 0, sessionPresent: false, ...connack } as Packet)
  const commands = () => sent.map(({ cmd, messageId }) => (messageId === undefined ? cmd : `${cmd} ${messageId}`))
  return {
    connection,
    broker,
    events: events!,
    sent,
    commands,
    frames,
    ends,
    turn,
    isLive: () => live,
    state: () => state,
  }
}

const word = (messageId: number): Partial<Packet> => ({
  cmd: 'publish',
  topic: 'ropewalk/w01',
  payload: 'opened',
  qos: 1,
  retain: false,
  dup: false,
  messageId,
})
const message = { topic: 't', payload: new Uint8Array(0), qos: 1, retain: false } as const

/** Promises that the test keeps or breaks. */
function kept() {
  const settle: { done(): void; failed(): void }[] = []
  const heard = () => new Promise<void>((done, failed) => settle.push({ done, failed: () => failed(new Error('no')) }))
  return { settle, heard }
}

test('a message is acknowledged at once when nobody asks for time', async () => {
  const { broker, commands } = await start()
  await broker(word(7))
  expect(commands()).toEqual(['connect', 'puback 7'])
})

test('an acknowledgement waits until its message is kept, and other packets pass it meanwhile', async () => {
  const { settle, heard } = kept()
  const { broker, connection, commands, turn } = await start({ heard })
  await broker(word(7))
  void connection.publish(message)
  await turn()
  expect(commands()).toEqual(['connect', 'publish 1'])
  settle[0]!.done()
  await turn()
  expect(commands()).toEqual(['connect', 'publish 1', 'puback 7'])
})

test('acknowledgements keep the order of their messages (MQTT-4.6.0-2)', async () => {
  const { settle, heard } = kept()
  const { broker, commands, turn } = await start({ heard })
  await broker(word(1), word(2), word(3))
  settle[2]!.done()
  settle[1]!.done()
  await turn()
  expect(commands()).toEqual(['connect'])
  settle[0]!.done()
  await turn()
  expect(commands()).toEqual(['connect', 'puback 1', 'puback 2', 'puback 3'])
})

test('a message that could not be kept is never acknowledged, nor is a later one', async () => {
  const { settle, heard } = kept()
  const { broker, commands, turn } = await start({ heard })
  await broker(word(1), word(2))
  settle[0]!.failed()
  settle[1]!.done()
  await turn()
  expect(commands()).toEqual(['connect'])
})

test('a packet id may come again once it is acknowledged', async () => {
  const { broker, commands } = await start()
  await broker(word(7), word(7))
  expect(commands()).toEqual(['connect', 'puback 7', 'puback 7'])
})

test('what is sent in one turn leaves as one', async () => {
  const { connection, frames, commands, turn } = await start()
  for (let n = 0; n < 3; n++) void connection.publish(message)
  await turn()
  expect(commands().slice(1)).toEqual(['publish 1', 'publish 2', 'publish 3'])
  expect(frames).toHaveLength(2)
})

test('a publication resolves with the broker’s code, whatever the order of the answers', async () => {
  const { connection, broker } = await start({ version: 5 })
  const [first, second] = [connection.publish(message), connection.publish(message)]
  await broker({ cmd: 'puback', messageId: 2, reasonCode: 135 }, { cmd: 'puback', messageId: 1, reasonCode: 16 })
  expect(await Promise.all([first, second])).toEqual([16, 135])
})

// MQTT-3.3.4-9
test('no more messages wait for the broker’s answer than it allows', async () => {
  const { connection, broker, commands, turn } = await start({
    version: 5,
    connack: { properties: { receiveMaximum: 2 } } as Partial<Packet>,
  })
  const all = Array.from({ length: 4 }, () => connection.publish(message))
  await turn()
  expect(commands().slice(1)).toEqual(['publish 1', 'publish 2'])
  await broker({ cmd: 'puback', messageId: 1 }, { cmd: 'puback', messageId: 2 })
  expect(commands().slice(1)).toEqual(['publish 1', 'publish 2', 'publish 3', 'publish 4'])
  await broker({ cmd: 'puback', messageId: 3 }, { cmd: 'puback', messageId: 4 })
  expect(await Promise.all(all)).toEqual([0, 0, 0, 0])
})

test('while nothing is sent it pings within each keep-alive, and lives while it is answered', async () => {
  const { broker, sent, ends } = await start()
  for (let half = 0; half < 8; half++) {
    await vi.advanceTimersByTimeAsync(15_000)
    await broker({ cmd: 'pingresp' })
  }
  expect(sent.filter(({ cmd }) => cmd === 'pingreq').length).toBeGreaterThanOrEqual(4)
  expect(ends).toEqual([])
})

test('a broker that answers no ping is given up after one and a half to two keep-alives', async () => {
  const { ends, state } = await start()
  await vi.advanceTimersByTimeAsync(45_000)
  expect(ends).toEqual([])
  await vi.advanceTimersByTimeAsync(15_000)
  expect(ends[0]?.error?.message).toMatch(/silent for 45 s/)
  expect(state()).toBe('destroyed')
})

// MQTT-3.1.2-21
test('the keep-alive that the broker asks for holds', async () => {
  const { sent } = await start({ version: 5, connack: { properties: { serverKeepAlive: 4 } } as Partial<Packet> })
  await vi.advanceTimersByTimeAsync(4_000)
  expect(sent.some(({ cmd }) => cmd === 'pingreq')).toBe(true)
})

test('a broker that does not answer CONNECT is given up, and that is said', async () => {
  const { ends, isLive } = await start({ connack: null as never })
  await vi.advanceTimersByTimeAsync(10_000)
  expect(ends[0]?.error?.message).toBe('the broker gave no answer within 10 s')
  expect(isLive()).toBe(0)
})

test('anything before CONNACK, and a second CONNACK, end it', async () => {
  const early = await start({ connack: null as never })
  await early.broker(word(1))
  expect(early.ends[0]?.error?.message).toMatch(/publish comes out of its turn/)
  const twice = await start()
  await twice.broker({ cmd: 'connack', returnCode: 0, sessionPresent: false } as Packet)
  expect(twice.ends[0]?.error?.message).toMatch(/connack comes out of its turn/)
})

test('a polite end waits for what was sent, then says DISCONNECT', async () => {
  const { connection, broker, commands, events, state, turn } = await start()
  void connection.publish(message)
  let isOver = false
  void connection.end().then(() => {
    isOver = true
  })
  await turn()
  expect(commands()).toEqual(['connect', 'publish 1'])
  await broker({ cmd: 'puback', messageId: 1 })
  expect(commands()).toEqual(['connect', 'publish 1', 'disconnect'])
  expect(state()).toBe('ended')
  events.closed()
  await turn()
  expect(isOver).toBe(true)
})

test('when the link goes down, all that waits fails, queued or sent, and later calls too', async () => {
  const { connection, events, ends, turn } = await start({
    version: 5,
    connack: { properties: { receiveMaximum: 1 } } as Partial<Packet>,
  })
  const waiting = [
    connection.publish(message),
    connection.publish(message),
    connection.subscribe(['a'], { qos: 1, retainAsPublished: false }),
  ]
  const failures = Promise.all(waiting.map(each => expect(each).rejects.toThrow('went down')))
  events.closed(new Error('a cable was pulled'))
  await turn()
  await failures
  await expect(connection.publish({ ...message, qos: 0 })).rejects.toThrow('down')
  expect(ends).toEqual([{ error: new Error('a cable was pulled') }])
  expect(connection.isLive).toBe(false)
})

test('its end is said once, and nothing is heard after it', async () => {
  const heard = vi.fn()
  const { connection, broker, events, ends, turn } = await start({ heard })
  connection.drop(new Error('enough'))
  events.closed()
  await broker(word(1))
  await turn()
  expect(ends).toEqual([{ error: new Error('enough') }])
  expect(heard).not.toHaveBeenCalled()
})
