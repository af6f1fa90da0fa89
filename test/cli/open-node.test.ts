import { createServer } from 'node:net'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { openNode } from '../../src/cli/bench/open-node.ts'
import { listen, stop } from '../../src/link/listen.ts'
import { brokerOf } from '../../src/register/topics.ts'
import { freePort } from '../support/ports.ts'

const server = createServer(socket => socket.destroy())
let open = 0
let shut = 0
beforeAll(async () => {
  open = await listen(server, 0, '127.0.0.1')
  shut = await freePort()
})
afterAll(() => stop(server))

const nodesOf = (...ports: number[]) => ports.map(port => brokerOf(`mqtt://127.0.0.1:${port}`)!)

test('a node that refuses is passed over; where none takes a connection the first is named', async () => {
  expect((await openNode(nodesOf(shut, open)))?.port).toBe(open)
  expect((await openNode(nodesOf(shut, shut)))?.port).toBe(shut)
  expect((await openNode(nodesOf(shut)))?.port).toBe(shut)
  expect(await openNode([])).toBeUndefined()
})
