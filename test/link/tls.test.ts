import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { CONNECTIONS } from '../support/connections.ts'
import { listenTo } from '../support/ear.ts'
import { haveMosquitto, Mosquitto } from '../support/mosquitto.ts'
import { freePort } from '../support/ports.ts'
import { until } from '../support/until.ts'

// A certificate for 127.0.0.1 and localhost that signs itself; it serves these tests and nothing else.
const [cert, key] = ['cert', 'key'].map(name => fileURLToPath(new URL(`../support/tls/${name}.pem`, import.meta.url)))
const ca = readFileSync(cert!, 'utf8')

describe.skipIf(haveMosquitto.skip)(haveMosquitto.title('the link over TLS'), () => {
  let broker: Mosquitto
  const urls = { mqtts: '', wss: '' }
  beforeAll(async () => {
    const [plain, web] = [await freePort(), await freePort()]
    const secure = `certfile ${cert}\nkeyfile ${key}`
    broker = await Mosquitto.start({
      lines: [`listener ${plain} 127.0.0.1\n${secure}`, `listener ${web} 127.0.0.1\nprotocol websockets\n${secure}`],
    })
    urls.mqtts = `mqtts://127.0.0.1:${plain}`
    urls.wss = `wss://127.0.0.1:${web}`
  })
  afterAll(() => broker?.close())

  describe.each(CONNECTIONS)('$name connection', ({ connect }) => {
    test.each(['mqtts', 'wss'] as const)('%s works with the broker’s certificate at hand', async scheme => {
      const ear = listenTo({ url: urls[scheme], connect: connect({ ca }) }, ['ropewalk/w01'])
      await ear.listening()
      await ear.feed.publish('ropewalk/w01', 'opened')
      expect(await ear.nth(1)).toMatchObject({ text: 'opened' })
      await ear.feed.close()
    })

    test.each(['mqtts', 'wss'] as const)(
      '%s to a broker that nobody vouches for is not used, and that is said',
      async scheme => {
        const ear = listenTo({ url: urls[scheme], connect: connect(), username: 'wall', password: 'sesame' })
        await until('down', () => ear.state() === 'down')
        expect(ear.states.at(-1)).toMatchObject({ why: expect.stringMatching(/self.signed certificate/) })
        expect(ear.states.map(each => each.state)).not.toContain('live')
        await ear.feed.close()
      },
    )
  })
})
