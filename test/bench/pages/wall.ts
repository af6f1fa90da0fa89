// Runs the card and the references in Chromium against mosquitto; the bench bundles this file.
import { build } from 'esbuild'
import type { Page as BrowserPage } from 'puppeteer-core'
import { startPage } from '../../../src/cli/page.ts'
import type { Feed } from '../../../src/ledger/types.ts'
import { dialNode } from '../../../src/link/dial-node.ts'
import { mqttFeed } from '../../../src/link/mqtt-feed.ts'
import { largeHouse } from '../../e2e/houses.ts'
import { type Chromium, startChromium } from '../../support/chromium.ts'
import { Mosquitto } from '../../support/mosquitto.ts'
import { pause, until } from '../../support/until.ts'
import { openWall, serveWall } from '../../support/wall.ts'

const quantile = (list: readonly number[], p: number): number => {
  const sorted = [...list].sort((a, b) => a - b)
  return sorted[Math.min(sorted.length - 1, Math.floor(p * sorted.length))] ?? Number.NaN
}
const ms = (value: number): string => `${value.toFixed(1)} ms`

async function publisher(broker: Mosquitto): Promise<Feed> {
  const feed = mqttFeed({ url: broker.mqttUrl, dial: dialNode() })
  let live = false
  feed.open({
    heard() {},
    link: state => {
      live = state.state === 'live'
    },
  })
  await until('the publisher', () => live)
  return feed
}

async function barePage(chromium: Chromium, broker: Mosquitto, openings: number) {
  const made = await build({
    entryPoints: ['test/bench/pages/bare.ts'],
    bundle: true,
    format: 'iife',
    write: false,
    platform: 'browser',
    define: { global: 'globalThis' },
    logLevel: 'error',
  })
  const script = made.outputFiles[0]!.text
  const files = new Map([
    [
      '/',
      {
        type: 'text/html',
        body: '<!doctype html><meta charset="utf-8"><body><script src="bare.js"></script></body>',
      } as const,
    ],
    ['/bare.js', { type: 'text/javascript', body: script } as const],
  ])
  const served = await startPage({ files, port: 0 })
  const page = await chromium.browser.newPage()
  await page.setViewport({ width: 1280, height: 800 })
  await page.goto(`${served.url}?openings=${openings}&broker=${encodeURIComponent(broker.websocketUrl)}`)
  await page.waitForSelector('body.live')
  return {
    page,
    close: async () => {
      await page.close()
      await served.close()
    },
  }
}

/** Notes when a row of the card has been painted anew, and how long drawing took. */
const spy = (page: BrowserPage, row: string) =>
  page.evaluate(mark => {
    window.painted = []
    Object.assign(window, { drawn: [] })
    const root = document.querySelector('sash-tally')!.shadowRoot!
    const say = () =>
      root.querySelector(`.row-open[data-mark="${mark}"] .say`)?.textContent?.replace(/\s+/g, ' ').trim() ?? ''
    let before = say()
    const card = customElements.get('sash-tally')!.prototype as { performUpdate(): void }
    const perform = card.performUpdate
    card.performUpdate = function (this: HTMLElement) {
      const started = performance.now()
      perform.call(this)
      void this.offsetHeight
      ;(window as unknown as { drawn: number[] }).drawn.push(performance.now() - started)
      const now = say()
      if (now === before) return
      before = now
      requestAnimationFrame(() => setTimeout(() => window.painted.push({ topic: mark, word: now, at: Date.now() })))
    }
  }, row)

/** Gaps between frames from now on. */
const frames = (page: BrowserPage) =>
  page.evaluate(() => {
    window.gaps = []
    let last = performance.now()
    const frame = () => {
      const now = performance.now()
      window.gaps.push(now - last)
      last = now
      requestAnimationFrame(frame)
    }
    requestAnimationFrame(frame)
  })

async function latency(feed: Feed, page: BrowserPage): Promise<number[]> {
  const list: number[] = []
  for (let n = 0; n < 21; n++) {
    await pause(250 + 40 * (n % 5))
    const before = await page.evaluate(() => window.painted.length)
    const sent = Date.now()
    await feed.publish('ropewalk/d0', n % 2 ? 'shut' : 'ajar', { qos: 0 })
    const at = await until('the paint', () => page.evaluate(count => window.painted[count]?.at, before), 10)
    list.push(at - sent)
  }
  return list
}

async function storm(feed: Feed, page: BrowserPage, openings: number, last: () => Promise<boolean>) {
  await frames(page)
  const [perSecond, seconds] = [2000, 10]
  const started = performance.now()
  for (let sent = 0; sent < perSecond * seconds; ) {
    const due = Math.min(perSecond * seconds, Math.ceil(((performance.now() - started) / 1000) * perSecond))
    for (; sent < due; sent++)
      void feed.publish(`ropewalk/d${sent % openings}`, (sent + Math.floor(sent / openings)) % 2 ? 'ajar' : 'shut', {
        qos: 0,
      })
    await pause(5)
  }
  await feed.publish(`ropewalk/d${openings - 1}`, 'shut', { qos: 1 })
  await feed.publish(`ropewalk/d${openings - 1}`, 'ajar', { qos: 1 })
  const ended = performance.now()
  await until('the last word', last, 60)
  const lag = performance.now() - ended
  const gaps = await page.evaluate(() => window.gaps)
  return { p50: quantile(gaps, 0.5), p95: quantile(gaps, 0.95), most: Math.max(...gaps), lag }
}

export async function runAll(): Promise<void> {
  const [chromium, broker] = [await startChromium(), await Mosquitto.start({ lines: ['max_queued_messages 0'] })]
  try {
    const feed = await publisher(broker)
    {
      const bare = await barePage(chromium, broker, 1)
      const reference = await latency(feed, bare.page)
      await bare.close()
      const served = await serveWall(largeHouse(broker, 26), broker.websocketUrl)
      const wall = await openWall(chromium, served.url)
      await wall.shows('.link', /^live/)
      await spy(wall.page, 'D0')
      const card = await latency(feed, wall.page)
      console.log(
        `paint after publish, 26 openings: ${ms(quantile(card, 0.5))} (p95 ${ms(quantile(card, 0.95))}); bare page with one text node ${ms(quantile(reference, 0.5))} (p95 ${ms(quantile(reference, 0.95))}): ${(quantile(card, 0.5) / quantile(reference, 0.5)).toFixed(2)} times`,
      )
      await wall.page.close()
      await served.close()
    }
    const served = await serveWall(largeHouse(broker, 500), broker.websocketUrl)
    const wall = await openWall(chromium, served.url)
    await wall.shows('.link', /^live/)
    await spy(wall.page, 'D499')
    const update = await oneOf500(feed, wall.page)
    const first = await firstDrawing(wall.page)
    console.log(`the 500-row sheet’s markup as a string, with layout: ${ms(first)}`)
    console.log(
      `one reading of 500: ${ms(update.card)} of script and layout; by hand ${ms(update.hand)}: ${(update.card / update.hand).toFixed(2)} times`,
    )
    const card = await storm(feed, wall.page, 500, async () => /open since/.test((await wall.row('D499'))?.say ?? ''))
    await wall.page.close()
    await served.close()
    const bare = await barePage(chromium, broker, 500)
    const hand = await storm(feed, bare.page, 500, () =>
      bare.page.evaluate(
        () =>
          window.painted.at(-1)?.word === 'ajar' &&
          window.painted.findLast(each => each.topic === 'ropewalk/d499')?.word === 'ajar',
      ),
    )
    await bare.close()
    for (const [name, { p50, p95, most, lag }] of Object.entries({ card, 'by hand': hand })) {
      console.log(
        `storm, 2,000 words a second for 10 s on 500 openings, ${name}: frames p50 ${ms(p50)}, p95 ${ms(p95)}, most ${ms(most)}; last word painted after ${ms(lag)}`,
      )
    }
    console.log(`storm, card against by hand: frames p95 ${(card.p95 / hand.p95).toFixed(2)} times`)
    await feed.close()
  } finally {
    await chromium.close()
    await broker.close()
  }
}

/** Work of one changed reading in the card, against setting one text by hand with the same layout to follow. */
async function oneOf500(feed: Feed, page: BrowserPage): Promise<{ card: number; hand: number }> {
  const card: number[] = []
  for (let n = 0; n < 15; n++) {
    await pause(400)
    await page.evaluate(() => {
      ;(window as unknown as { drawn: number[] }).drawn.length = 0
    })
    await feed.publish('ropewalk/d499', n % 2 ? 'shut' : 'ajar', { qos: 1 })
    await until('the drawing', () => page.evaluate(() => (window as unknown as { drawn: number[] }).drawn.length > 0))
    await pause(100)
    card.push(await page.evaluate(() => Math.max(...(window as unknown as { drawn: number[] }).drawn)))
  }
  const hand = await page.evaluate(() => {
    const root = document.querySelector('sash-tally')!.shadowRoot!
    const row = root.querySelector<HTMLElement>('.row-open[data-mark="D499"]')!
    const item = row.closest('li')!
    const list = item.parentElement!
    const copy = list.cloneNode(true) as HTMLElement
    list.after(copy)
    const last = copy.lastElementChild as HTMLElement
    const text = document.createTreeWalker(last, NodeFilter.SHOW_TEXT)
    let node = text.nextNode() as Text | null
    while (node && !node.data.trim()) node = text.nextNode() as Text | null
    const times: number[] = []
    for (let n = 0; n < 30; n++) {
      const started = performance.now()
      node!.data = `changed ${n}`
      copy.insertBefore(last, n % 2 ? null : copy.firstElementChild)
      void copy.offsetHeight
      times.push(performance.now() - started)
    }
    copy.remove()
    return times.sort((a, b) => a - b)[15]!
  })
  return { card: quantile(card, 0.5), hand }
}

/** The same sheet put in as a string, layout included. */
const firstDrawing = (page: BrowserPage): Promise<number> =>
  page.evaluate(() => {
    const root = document.querySelector('sash-tally')!.shadowRoot!
    const list = root.querySelector<HTMLElement>('.row-open')!.closest('li')!.parentElement!
    const fresh = list.cloneNode(false) as HTMLElement
    list.after(fresh)
    const started = performance.now()
    for (const child of list.children) fresh.append(child.cloneNode(true))
    void fresh.offsetHeight
    const took = performance.now() - started
    fresh.remove()
    return took
  })
