import { createServer } from 'node:net'
import { describe, expect, test } from 'vitest'
import { listen, stop } from '../../src/link/listen.ts'
import { named } from '../../src/link/refusals.ts'
import { CONNECTIONS } from '../support/connections.ts'
import { listenTo } from '../support/ear.ts'
import { until } from '../support/until.ts'

// Reason codes: MQTT 3.1.1 table 3.1; MQTT 5.0 table 3-1.
describe.each(CONNECTIONS)('a CONNACK to $name connection', ({ connect }) => {
  test.each([
    [4, 2, false],
    [4, 3, false],
    [4, 4, true],
    [4, 5, true],
    [5, 0x85, false],
    [5, 0x86, true],
    [5, 0x87, true],
    [5, 0x88, false],
    [5, 0x89, false],
    [5, 0x8a, false],
    [5, 0x97, false],
    [5, 0x9f, false],
  ] as const)(
    'of version %i with code %i tells whether another account may help: %s',
    async (version, code, account) => {
      const connack = version === 4 ? [0x20, 2, 0, code] : [0x20, 3, 0, code, 0]
      const server = createServer(socket => socket.once('data', () => socket.end(Buffer.from(connack))))
      const port = await listen(server, 0, '127.0.0.1')
      const stranger = listenTo({ url: `mqtt://127.0.0.1:${port}`, protocolVersion: version, connect: connect() })
      try {
        await until('the refusal', () => stranger.state() === 'refused')
        expect('account' in stranger.states.at(-1)!).toBe(account)
      } finally {
        await stranger.feed.close()
        await stop(server)
      }
    },
  )
})

test('topics in a sentence are three, none longer than a line', () => {
  expect(named(['a', 'b', 'c'])).toBe('a, b, c')
  expect(named(['a', 'b', 'c', 'd', 'e'])).toBe('a, b, c and 2 more')
  expect(named(['x'.repeat(60_000)])).toHaveLength(80)
})
