import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { mqttFeed } from '../../src/link/mqtt-feed.ts'
import { connectNode } from '../../src/link/node/package-connection.ts'
import { type Chromium, startChromium } from '../support/chromium.ts'
import { needs } from '../support/missing.ts'
import { Mosquitto } from '../support/mosquitto.ts'
import { pause, until } from '../support/until.ts'
import { openWall, serveWall } from '../support/wall.ts'
import { largeHouse } from './houses.ts'

const both = needs('mosquitto', 'chromium')
const OPENINGS = 500
const A_SECOND = 2_000
const SECONDS = 4

describe.skipIf(both.skip)(both.title('a storm of words'), () => {
  let chromium: Chromium
  let broker: Mosquitto
  beforeAll(async () => {
    chromium = await startChromium()
    broker = await Mosquitto.start({ lines: ['max_queued_messages 0'] })
  })
  afterAll(async () => {
    await chromium?.close()
    await broker?.close()
  })

  test('of 2,000 a second on 500 openings makes at most one render a frame, and ends with the last word painted', async () => {
    const served = await serveWall(largeHouse(broker, OPENINGS), broker.websocketUrl)
    const wall = await openWall(chromium, served.url)
    await wall.shows('.link', /^live/)
    await wall.page.evaluate(() => {
      const counts = { renders: 0, frames: 0, most: 0 }
      Object.assign(window, { counts })
      const card = customElements.get('sash-tally')?.prototype as { performUpdate(): void }
      const perform = card.performUpdate
      let inFrame = 0
      card.performUpdate = function (this: unknown) {
        counts.renders++
        counts.most = Math.max(counts.most, ++inFrame)
        return perform.call(this)
      }
      const frame = () => {
        counts.frames++
        inFrame = 0
        requestAnimationFrame(frame)
      }
      requestAnimationFrame(frame)
    })
    const feed = mqttFeed({ url: broker.mqttUrl, connect: connectNode() })
    let isLive = false
    feed.open({
      heard() {},
      link: state => {
        isLive = state.state === 'live'
      },
    })
    await until('the publisher', () => isLive)

    const total = A_SECOND * SECONDS
    const started = performance.now()
    for (let sent = 0; sent < total; ) {
      const due = Math.min(total, Math.ceil(((performance.now() - started) / 1000) * A_SECOND))
      for (; sent < due; sent++) {
        const word = (sent + Math.floor(sent / OPENINGS)) % 2 ? 'ajar' : 'shut'
        void feed.publish(`ropewalk/d${sent % OPENINGS}`, word, { qos: 0 })
      }
      await pause(5)
    }
    const tookSeconds = (performance.now() - started) / 1000
    // The last round: what must stand in the end.
    await Promise.all(
      Array.from({ length: OPENINGS }, (_, index) =>
        feed.publish(`ropewalk/d${index}`, index % 3 ? 'shut' : 'ajar', { qos: 1 }),
      ),
    )
    const toneAt = (index: number) => (index % 3 ? /^closed/ : /^open since/)
    const painted = performance.now()
    await wall.says(`D${OPENINGS - 1}`, toneAt(OPENINGS - 1), 40)
    await wall.says('D0', toneAt(0), 40)
    const lag = performance.now() - painted
    await pause(300)
    const rows = await wall.page.evaluate(() => {
      const all =
        document.querySelector('sash-tally')?.shadowRoot?.querySelectorAll<HTMLElement>('.row-open[data-mark]') ?? []
      return [...all].map(
        each => `${each.dataset.mark} ${each.querySelector('.say')?.textContent?.replace(/\s+/g, ' ').trim()}`,
      )
    })
    expect(rows).toHaveLength(OPENINGS)
    for (const row of rows) {
      const [, index = '', say = ''] = /^D(\d+) (.*)$/.exec(row) ?? []
      expect(say, row).toMatch(toneAt(Number(index)))
    }
    expect(await wall.text('.headline')).toBe(`${Math.ceil(OPENINGS / 3)} may be open`)
    const counts = await wall.page.evaluate(
      () => (window as unknown as { counts: { renders: number; frames: number; most: number } }).counts,
    )
    console.log(
      `storm: ${Math.round(total / tookSeconds)} words a second, ${counts.renders} renders in ${counts.frames} frames, the last word painted after ${Math.round(lag)} ms`,
    )
    expect(counts.renders).toBeGreaterThan(3)
    expect(counts.most).toBe(1)
    expect(wall.complaints).toEqual([])
    await feed.close()
    await wall.page.close()
    await served.close()
  })
})
