import { createServer } from 'node:net'
import { afterEach, expect, test } from 'vitest'
import { listen, stop } from '../../src/link/listen.ts'
import { connectNode } from '../../src/link/node/package-connection.ts'
import { earsOver } from '../support/ear.ts'
import { freePort } from '../support/ports.ts'
import { until } from '../support/until.ts'

const { ear, close } = earsOver(connectNode())
afterEach(close)

/** The state of a link to this address after its first attempt. */
async function firstDown(url: string) {
  const { states } = ear({ url })
  return until('the first attempt', () => states.find(({ state }) => state === 'down'))
}

test.each(['mqtt://127.0.0.1', 'mqtt://localhost', 'mqtts://127.0.0.1', 'ws://127.0.0.1', 'ws://localhost'])(
  'a link to a port of %s that no program has tells so',
  async address => {
    expect(await firstDown(`${address}:${await freePort()}`)).toMatchObject({ nobodyListens: true })
  },
)

test('a program that hangs up at once is one that listens', async () => {
  const server = createServer(socket => socket.resetAndDestroy())
  const port = await listen(server, 0, '127.0.0.1')
  try {
    expect(await firstDown(`ws://127.0.0.1:${port}`)).not.toHaveProperty('nobodyListens')
  } finally {
    await stop(server)
  }
})

test('a machine that no name server knows says nothing of a broker', async () => {
  expect(await firstDown('mqtt://broker.invalid:1883')).not.toHaveProperty('nobodyListens')
})
