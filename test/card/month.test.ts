import type { CDPSession } from 'puppeteer-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Chromium, haveChromium, startChromium } from '../support/chromium.ts'
import type { Stage } from './fixtures.ts'
import { serveStage } from './serve-stage.mjs'

declare global {
  var stage: Stage
}

describe.skipIf(haveChromium.skip)(haveChromium.title('a wall that is always on'), { timeout: 1_200_000 }, () => {
  let chromium: Chromium
  let served: Awaited<ReturnType<typeof serveStage>>
  beforeAll(async () => {
    ;[chromium, served] = await Promise.all([startChromium(), serveStage()])
  })
  afterAll(async () => {
    await chromium?.close()
    served?.close()
  })

  test('holds as many objects of its own after 30 days as after eight, and as many nodes', async () => {
    const page = await chromium.newPage()
    await page.setViewport({ width: 1280, height: 800 })
    await page.goto(`${served.origin}/`)
    // Of what is waited for this test must hold nothing: a node of the first drawing holds that drawing's whole tally.
    await page.waitForFunction(
      () =>
        globalThis.stage?.feeds.length > 0 &&
        document.querySelector('sash-tally')?.shadowRoot?.querySelector('.plan svg') !== null,
    )
    const cdp = await page.createCDPSession()
    await page.evaluate(keepNoStory)
    await page.evaluate(fillTally)
    // The first days warm the page up: code is compiled, rows are drawn for the first time.
    await page.evaluate(days, 8)
    const held: Awaited<ReturnType<typeof used>>[] = [await used(cdp)]
    for (let day = 8; day < 30; day += 2) {
      await page.evaluate(days, 2)
      held.push(await used(cdp))
    }
    const counted = held.map(({ openings }) => openings)
    const [early, late] = [held.slice(1, 5), held.slice(-4)]
    const growth = (what: keyof (typeof held)[number]) => least(late, what) / least(early, what)
    console.log(
      (['objects', 'bytes', 'nodes', 'listeners'] as const)
        .map(what => `${what} ${held.map(each => each[what]).join(' ')}`)
        .join('\n'),
    )
    expect(counted.at(-1)! - counted[0]!, 'a month was counted').toBe(22 * 5)
    // With what is drawn some 60 come and go; five a day more would show.
    expect(least(late, 'objects') - least(early, 'objects')).toBeLessThan(14 * 5)
    expect(growth('bytes')).toBeLessThan(1.05)
    expect(growth('nodes')).toBeLessThan(1.05)
    expect(growth('listeners')).toBeLessThan(1.05)
    await page.close()
  })
})

/** The least of several: at one moment or another something is under way, and a leak raises the least too. */
const least = <K extends string>(list: readonly Record<K, number>[], what: K): number =>
  Math.min(...list.map(each => each[what]))

/** What is still held once nothing is under way: a forecast and a commit come to their end first. */
async function used(cdp: CDPSession) {
  let objects = Number.NaN
  for (let before = Number.NaN; before !== objects; ) {
    before = objects
    await new Promise(done => setTimeout(done, 1000))
    for (let n = 0; n < 4; n++) await cdp.send('HeapProfiler.collectGarbage')
    objects = await objectsOf(cdp)
  }
  const { usedSize: bytes } = await cdp.send('Runtime.getHeapUsage')
  const { nodes, jsEventListeners: listeners } = await cdp.send('Memory.getDOMCounters')
  const { result } = await cdp.send('Runtime.evaluate', { expression: `(${openingsKept})()` })
  return { objects, bytes, nodes, listeners, openings: result.value as number }
}

/** Objects of the page, each function and list among them; nodes are counted by themselves. */
async function objectsOf(cdp: CDPSession): Promise<number> {
  const objectGroup = 'month'
  const { result: prototype } = await cdp.send('Runtime.evaluate', { expression: 'Object.prototype', objectGroup })
  const { objects } = await cdp.send('Runtime.queryObjects', { prototypeObjectId: prototype.objectId!, objectGroup })
  const { result } = await cdp.send('Runtime.callFunctionOn', {
    objectId: objects.objectId!,
    functionDeclaration: 'function () { return this.filter(each => !(each instanceof Node)).length }',
  })
  await cdp.send('Runtime.releaseObjectGroup', { objectGroup })
  return result.value as number
}

function openingsKept(): number {
  return Object.values(globalThis.stage.memory.ledger?.marks ?? {}).reduce((sum, { fold }) => sum + fold.openings, 0)
}

/** The real store holds its entries on disk. */
function keepNoStory(): void {
  const { memory } = globalThis.stage
  memory.entries.length = 0
  memory.commit = async (_entries, ledger) => {
    memory.ledger = ledger
  }
}

/**
 * As many words as the tally keeps of an opening in memory, before them as many openings as its story keeps, and as many
 * times in which nobody listened as a house keeps, so that what grows from here on is no tally.
 */
async function fillTally(): Promise<void> {
  const { stage } = globalThis
  stage.live()
  const named = (letter: string, count: number) =>
    Array.from({ length: count }, (_, n) => `${letter}${String(n + 1).padStart(2, '0')}`)
  const windows = named('w', 24)
  const doors = named('d', 3)
  const hear = (window: string, door: string): void => {
    for (const mark of windows) stage.feed.hear(`ropewalk/${mark}`, window)
    for (const mark of doors) stage.feed.hear(`ropewalk/${mark}`, door)
  }
  for (let n = 0; n < 175; n++) {
    stage.now += 20_000
    hear('opened', 'ajar')
    stage.now += 40_000
    hear('asleep', 'shut')
    stage.feed.link({ state: 'down', since: stage.now })
    stage.now += 80_000
    document.dispatchEvent(new Event('visibilitychange'))
    stage.live()
    stage.now += 80_000
    document.dispatchEvent(new Event('visibilitychange'))
    await new Promise(requestAnimationFrame)
  }
}

/** Days of a house: doors all day, a window now and then, a broken link, a story read, a list walked. */
async function days(count: number): Promise<void> {
  const { stage } = globalThis
  const root = document.querySelector('sash-tally')!.shadowRoot!
  const frame = () => new Promise(done => requestAnimationFrame(() => setTimeout(done)))
  const press = (text: string) =>
    [...root.querySelectorAll('button')].find(button => button.textContent?.includes(text))?.click()
  const pass = async (minutes: number) => {
    // The longest steps that are no sleep.
    for (let n = 0; n < minutes * 60; n += 80) {
      stage.now += 80_000
      document.dispatchEvent(new Event('visibilitychange'))
    }
    await frame()
  }
  stage.live()
  for (let day = 0; day < count; day++) {
    for (let hour = 6; hour < 22; hour += 4) {
      stage.feed.hear('ropewalk/d01', 'ajar')
      await pass(1)
      stage.feed.hear('ropewalk/d01', 'shut')
      await pass(239)
    }
    const window = `w${String(1 + ((day * 7) % 20)).padStart(2, '0')}`
    stage.feed.hear(`ropewalk/${window}`, 'opened')
    stage.now += 6_000
    stage.feed.hear(`ropewalk/${window}`, 'asleep')
    await pass(1)
    root.querySelector<HTMLElement>('.row-open')?.click()
    await pass(1)
    press('Back')
    stage.feed.link({ state: 'down', since: stage.now })
    await pass(1)
    stage.live()
    await pass(1)
    press('Last look round')
    await pass(1)
    press('I looked')
    await pass(1)
    press('Back')
    await pass(475)
  }
}
