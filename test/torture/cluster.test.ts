import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { seeded } from '../../src/budget/lives/draw.ts'
import { builtCommand } from '../support/built.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { haveNats, NatsCluster } from '../support/nats.ts'
import { pause } from '../support/until.ts'
import { COUNTED, house, judge, PLAIN, Publisher } from './kills.ts'

/** Longer than the 30 s after which nats-server sends again. */
const QUIET_SECONDS = 45

describe(haveNats.title('a keeper at a cluster of three nodes'), { skip: haveNats.skip }, () => {
  test('each node is killed and brought back under load: every acknowledged word is in the tally, once or marked', async () => {
    const command = await builtCommand()
    const folder = mkdtempSync(join(tmpdir(), 'sashtally-cluster-'))
    const cluster = await NatsCluster.start()
    const text = house(cluster.url)
    const path = join(folder, 'torture.yaml')
    writeFileSync(path, text)
    const data = join(folder, 'data')
    const keeper = new KeeperProcess(command.path, path, data)
    const urls = cluster.nodes.map(({ url }) => url)
    // Each contact begins at another node.
    const publishers = [...COUNTED, ...PLAIN].map((mark, index) => {
      const own = index % urls.length
      return new Publisher([...urls.slice(own), ...urls.slice(0, own)].join(' '), mark, seeded(index))
    })
    try {
      const started = performance.now()
      keeper.start()
      await keeper.live()
      for (const publisher of publishers) publisher.start()
      await pause(3_000)
      for (const node of cluster.nodes) {
        await node.kill()
        await pause(4_000)
        node.start()
        await cluster.healthy(400)
        await pause(3_000)
      }
      await Promise.all(publishers.map(publisher => publisher.stop()))
      const outcome = await judge(publishers, data, text, started, QUIET_SECONDS)
      console.log('three nodes killed in turn:', JSON.stringify(outcome))
      expect(outcome.entries).toBeGreaterThan(100)
      keeper.mustRun()
    } finally {
      for (const publisher of publishers) void publisher.stop()
      await keeper.kill()
      await cluster.close()
      command.remove()
      rmSync(folder, { recursive: true, force: true })
    }
  })
})
