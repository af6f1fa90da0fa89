import { connect, type Socket } from 'node:net'
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest'
import { WebSocket } from 'ws'
import { type Broker, startBroker } from '../../src/link/broker.ts'
import { isOwnOrigin } from '../../src/link/own-host.ts'
import { listenTo } from '../support/ear.ts'
import { until } from '../support/until.ts'

/** A hundred bytes of a CONNECT that announces 200 MB; MQTT 3.1.1 section 2.2.3 for the length. */
const ANNOUNCES_200_MB = Buffer.concat([
  Buffer.from([0x10, 0x80, 0x84, 0xaf, 0x5f, 0, 4]),
  Buffer.from('MQTT'),
  Buffer.alloc(89),
])
const KIB = Buffer.alloc(1_024)

describe('strangers at the broker inside', () => {
  let broker: Broker
  beforeAll(async () => {
    broker = await startBroker({ names: ['wall.lan'] })
  })
  afterAll(() => broker.close())

  /** How a browser's page of this origin fares. */
  const open = (origin: string | undefined, host?: string): Promise<'open' | 'refused'> =>
    new Promise(done => {
      const socket = new WebSocket(broker.websocketUrl, 'mqtt', {
        ...(origin === undefined ? {} : { origin }),
        headers: host === undefined ? {} : { host },
      })
      socket.on('open', () => {
        done('open')
        socket.terminate()
      })
      socket.on('error', () => done('refused'))
    })

  test('another site’s page gets no WebSocket', async () => {
    expect(await open('https://elsewhere.example')).toBe('refused')
    expect(await open('http://203.0.113.7')).toBe('refused')
    expect(await open('http://127.0.0.1.elsewhere.example')).toBe('refused')
    expect(await open('null')).toBe('refused')
  })

  test('a name that was rebound to this machine opens none', async () => {
    expect(await open('http://elsewhere.example', 'elsewhere.example')).toBe('refused')
  })

  test('the house’s own pages, and what is no browser, come in', async () => {
    expect(await open('http://localhost:8080')).toBe('open')
    expect(await open('https://WALL.lan')).toBe('open')
    expect(await open('http://192.168.7.4:8080', '192.168.7.4:9001')).toBe('open')
    expect(await open(undefined)).toBe('open')
  })

  /** Sends until the broker has had enough; resolves with the bytes that it took. */
  const flood = (socket: Socket, head: Buffer): Promise<number> =>
    new Promise(done => {
      socket.on('error', () => {})
      socket.on('close', () => done(socket.bytesWritten))
      socket.resume()
      socket.write(head)
      const more = (): void => {
        // Bounded: where nobody hangs up the test fails by what it counts.
        if (socket.destroyed || socket.bytesWritten > 4_000_000) socket.destroy()
        else socket.write(KIB, () => setTimeout(more, 1))
      }
      more()
    })

  test('200 MB that are announced before the login are not waited for', async () => {
    const taken = await flood(connect(broker.mqttPort, '127.0.0.1'), ANNOUNCES_200_MB)
    expect(taken).toBeLessThan(200_000)
  })

  test('nor over WebSockets', async () => {
    const socket = new WebSocket(broker.websocketUrl, 'mqtt')
    await new Promise(done => socket.on('open', done))
    let sent = 0
    let isClosed = false
    socket.on('close', () => {
      isClosed = true
    })
    socket.on('error', () => {})
    socket.send(ANNOUNCES_200_MB)
    while (!isClosed && sent < 4_000_000) {
      await new Promise(done => setTimeout(done, 1))
      socket.send(KIB)
      sent += KIB.length
    }
    socket.terminate()
    expect(sent).toBeLessThan(200_000)
  })

  test('who says nothing is let go after ten seconds', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] })
    try {
      const socket = connect(broker.mqttPort, '127.0.0.1')
      let isClosed = false
      socket.resume().on('error', () => {})
      socket.on('close', () => {
        isClosed = true
      })
      const end = performance.now() + 60_000
      while (vi.getTimerCount() === 0 && performance.now() < end) await new Promise(done => setImmediate(done))
      vi.advanceTimersByTime(9_999)
      expect(vi.getTimerCount(), 'the broker waits for the login').toBe(1)
      // The library's own limit is 30 s.
      vi.advanceTimersByTime(1)
      vi.useRealTimers()
      await until('the end', () => isClosed)
    } finally {
      vi.useRealTimers()
    }
  })

  test('a client that has come in may send more than a login may', async () => {
    const ear = listenTo({ url: broker.mqttUrl }, ['ropewalk/long'])
    await ear.live()
    await ear.feed.publish('ropewalk/long', 'x'.repeat(100_000), { qos: 1 })
    expect((await ear.nth(1)).text).toHaveLength(100_000)
    await ear.feed.close()
  })
})

test.each(['', 'http://', 'elsewhere', 'file:///etc/passwd'])('the origin %j is none of ours', origin =>
  expect(isOwnOrigin(origin, '127.0.0.1:9001')).toBe(false),
)
