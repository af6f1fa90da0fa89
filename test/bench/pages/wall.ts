// Runs the card and the references in Chromium against mosquitto; the bench bundles this file.
import { readFileSync } from 'node:fs'
import type { Page as BrowserPage } from 'puppeteer-core'
import { mqttFeed } from '../../../src/link/mqtt-feed.ts'
import { connectNode } from '../../../src/link/node/package-connection.ts'
import type { Feed } from '../../../src/protocol/feed.ts'
import { largeHouse } from '../../e2e/houses.ts'
import { type Chromium, startChromium } from '../../support/chromium.ts'
import { Mosquitto } from '../../support/mosquitto.ts'
import { pause, until } from '../../support/until.ts'
import { atMost, median, ms, quantile, times } from './figures.ts'
import { type Opened, openCard, openReference } from './serve.ts'
import { saidByEye, sheetAsText, watchFrames } from './spies.ts'
import { onTablet } from './tablet.ts'

const MANY = 500
const LAST = `D${MANY - 1}`
const [A_SECOND, SECONDS] = [2000, 10]
/** A page is fast or slow as a whole, by how its code was compiled: many short ones tell more than few long ones. */
const [FIRST_RUNS, UPDATE_RUNS, STORM_RUNS] = [9, 9, 3]
/** Updates that count in a run. */
const UPDATES = 60
/** Updates before the compiler has got to what they run. */
const WARM = 60

async function publisher(broker: Mosquitto): Promise<Feed> {
  const feed = mqttFeed({ url: broker.mqttUrl, connect: connectNode() })
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

/** Opens a page, uses it, and closes it whatever happens. */
async function within<T>(opening: Promise<Opened>, use: (page: BrowserPage) => Promise<T>): Promise<T> {
  const { page, close } = await opening
  try {
    return await use(page)
  } finally {
    await close()
  }
}

/** Milliseconds from a publish to the new text painted. */
async function latency(feed: Feed, page: BrowserPage): Promise<number[]> {
  const list: number[] = []
  for (let n = 0; n < 41; n++) {
    // Not in step with the frames.
    await pause(150 + 37 * (n % 5))
    const before = await page.evaluate(() => window.painted.length)
    const sent = Date.now()
    await feed.publish('ropewalk/d0', n % 2 ? 'shut' : 'ajar', { qos: 0 })
    list.push((await until('the paint', () => page.evaluate(n => window.painted[n]?.at, before), 10)) - sent)
  }
  return list.slice(1)
}

/** Two doors stand open and the last one is tested: the sentences of the sheet then change by a number. */
async function openTwo(feed: Feed, page: BrowserPage): Promise<void> {
  const last = LAST.toLowerCase()
  for (const [door, word] of [
    ['d0', 'ajar'],
    ['d1', 'ajar'],
    [last, 'ajar'],
    [last, 'shut'],
  ] as const)
    await feed.publish(`ropewalk/${door}`, word, { qos: 1 })
  const open = () =>
    page.evaluate(() => document.querySelector('sash-tally')!.shadowRoot!.querySelectorAll('.row.open').length)
  await pause(300)
  await until('two open doors', async () => (await open()) === 2)
}

/**
 * Milliseconds of drawing and layout for one changed row, which moves to the other end of the list: the middle of the
 * medians of up and of down, which differ.
 */
async function update(feed: Feed, page: BrowserPage): Promise<number> {
  await page.evaluate(() => {
    window.measures = true
  })
  const took: Record<'up' | 'down', number[]> = { up: [], down: [] }
  for (let n = 0; n < WARM + UPDATES; n++) {
    await pause(60)
    const before = await page.evaluate(() => {
      window.drawn = []
      return window.painted.length
    })
    await feed.publish(`ropewalk/${LAST.toLowerCase()}`, n % 2 ? 'shut' : 'ajar', { qos: 0 })
    await until('the paint', () => page.evaluate(n => window.painted.length > n, before), 10)
    const drawn = await page.evaluate(() => Math.max(...window.drawn))
    if (n >= WARM) took[n % 2 ? 'down' : 'up'].push(drawn)
  }
  await page.evaluate(() => {
    window.measures = false
  })
  return (median(took.up) + median(took.down)) / 2
}

async function storm(feed: Feed, page: BrowserPage) {
  await page.evaluate(watchFrames)
  await page.evaluate(() => {
    window.painted = []
  })
  const total = A_SECOND * SECONDS
  const started = performance.now()
  for (let sent = 0; sent < total; ) {
    const due = Math.min(total, Math.ceil(((performance.now() - started) / 1000) * A_SECOND))
    for (; sent < due; sent++) {
      const word = (sent + Math.floor(sent / MANY)) % 2 ? 'ajar' : 'shut'
      void feed.publish(`ropewalk/d${sent % MANY}`, word, { qos: 0 })
    }
    await pause(5)
  }
  // A word unlike all before: its painting cannot be taken for another's.
  await feed.publish(`ropewalk/${LAST.toLowerCase()}`, 'lost', { qos: 1 })
  const ended = Date.now()
  const rate = total / ((performance.now() - started) / 1000)
  const last = () => page.evaluate(() => window.painted.find(({ text }) => !/^(open|closed)/.test(text))?.at)
  const lag = (await until('the last word', last, 60)) - ended
  const { gaps, rendersMost } = await page.evaluate(() => window.watched)
  return {
    rate,
    p50: median(gaps),
    p95: quantile(gaps, 0.95),
    most: Math.max(...gaps),
    long: gaps.filter(gap => gap > 50).length,
    frames: gaps.length,
    rendersMost,
    lag,
  }
}

async function paints(chromium: Chromium, broker: Mosquitto, feed: Feed): Promise<void> {
  const bare = await within(openReference(chromium, broker, 'bare'), page => latency(feed, page))
  const card = await within(openCard(chromium, broker, largeHouse(broker, 26), 'D0', 26), page => latency(feed, page))
  console.log(
    `paint after publish, 26 openings: ${ms(median(card))} (p95 ${ms(quantile(card, 0.95))}); one text node ${ms(median(bare))} (p95 ${ms(quantile(bare, 0.95))}): ${times(median(card), median(bare))}`,
  )
}

/** The first drawing in a fresh page, against its own markup put in as a string in a fresh page. */
async function firsts(chromium: Chromium, broker: Mosquitto): Promise<void> {
  const houses = [
    ['26 openings on their elevations', readFileSync('examples/ropewalk.yaml', 'utf8'), 26, 3],
    [`a schedule of ${MANY} rows`, largeHouse(broker, MANY), MANY, 2.5],
  ] as const
  for (const [name, register, rows, most] of houses) {
    const [card, string]: number[][] = [[], []]
    for (let run = 0; run < FIRST_RUNS; run++) {
      const sheet = await within(openCard(chromium, broker, register, '', rows), async page => {
        card!.push((await page.evaluate(() => window.first))!)
        return page.evaluate(sheetAsText)
      })
      await within(openReference(chromium, broker, 'list', '', sheet), async page => {
        string!.push((await page.evaluate(() => window.drawn[0]))!)
      })
    }
    const [drawn, put] = [median(card!), median(string!)]
    console.log(
      `first drawing and layout of ${name}: ${ms(drawn)}; its markup as a string ${ms(put)}: ${atMost(times(drawn, put), drawn / put, most)}; least of each ${times(Math.min(...card!), Math.min(...string!))}`,
    )
  }
}

/** One reading of many, before anything has shaken the machine: pages of the two in turn. */
async function updates(chromium: Chromium, broker: Mosquitto, feed: Feed): Promise<void> {
  const took: Record<'card' | 'hand', number[]> = { card: [], hand: [] }
  let said = ''
  for (let run = 0; run < UPDATE_RUNS; run++) {
    const sheet = await within(openCard(chromium, broker, largeHouse(broker, MANY), LAST, MANY), async page => {
      await openTwo(feed, page)
      const sheet = await page.evaluate(sheetAsText)
      took.card.push(await update(feed, page))
      said = await page.evaluate(saidByEye)
      return sheet
    })
    await within(openReference(chromium, broker, 'list', LAST, sheet), async page => {
      await openTwo(feed, page)
      took.hand.push(await update(feed, page))
      const byHand = await page.evaluate(saidByEye)
      if (said !== byHand) throw new Error(`the card and the list by hand say other things:\n${said}\n${byHand}`)
    })
  }
  const [card, hand] = [median(took.card), median(took.hand)]
  const ratios = took.card.map((value, run) => value / took.hand[run]!)
  const middle = median(ratios)
  console.log(
    `one reading of ${MANY}, drawing and layout: ${ms(card)}; by hand ${ms(hand)}: in the median of the runs ${atMost(`${middle.toFixed(2)} times`, middle, 1.4)}; the runs: ${ratios.map(ratio => ratio.toFixed(2)).join(', ')}`,
  )
}

async function storms(chromium: Chromium, broker: Mosquitto, feed: Feed): Promise<void> {
  const seen: Record<'card' | 'hand', Awaited<ReturnType<typeof storm>>[]> = { card: [], hand: [] }
  for (let run = 0; run < STORM_RUNS; run++) {
    const sheet = await within(openCard(chromium, broker, largeHouse(broker, MANY), LAST, MANY), async page => {
      await openTwo(feed, page)
      const sheet = await page.evaluate(sheetAsText)
      seen.card.push(await storm(feed, page))
      return sheet
    })
    await within(openReference(chromium, broker, 'list', LAST, sheet), async page => {
      await openTwo(feed, page)
      seen.hand.push(await storm(feed, page))
    })
  }
  const middle = (who: 'card' | 'hand', what: keyof (typeof seen)['card'][number]) =>
    median(seen[who].map(each => each[what]))
  for (const [who, name] of [
    ['card', 'the card'],
    ['hand', 'by hand'],
  ] as const) {
    console.log(
      `storm of ${middle(who, 'rate').toFixed(0)} words a second for ${SECONDS} s on ${MANY} openings, ${name}: frames p50 ${ms(middle(who, 'p50'))}, p95 ${ms(middle(who, 'p95'))}, most ${ms(middle(who, 'most'))}; over 50 ms ${seen[who].map(({ long, frames }) => `${long} of ${frames}`).join(', ')} (aim: none); at most ${Math.max(...seen[who].map(each => each.rendersMost))} drawing a frame; last word painted after ${ms(middle(who, 'lag'))}`,
    )
  }
  console.log(
    `storm, the card against by hand: frames p95 ${times(middle('card', 'p95'), middle('hand', 'p95'))}, most ${times(middle('card', 'most'), middle('hand', 'most'))}`,
  )
}

export async function runAll(): Promise<void> {
  const [chromium, broker] = [await startChromium(), await Mosquitto.start({ lines: ['max_queued_messages 0'] })]
  try {
    const feed = await publisher(broker)
    await paints(chromium, broker, feed)
    await firsts(chromium, broker)
    await onTablet(chromium, broker)
    await updates(chromium, broker, feed)
    await storms(chromium, broker, feed)
    await feed.close()
  } finally {
    await chromium.close()
    await broker.close()
  }
}
