// The card on the cheapest tablet: its processor slowed six times, and the sheet at rest.
import { readFileSync } from 'node:fs'
import type { Page as BrowserPage } from 'puppeteer-core'
import { largeHouse } from '../../e2e/houses.ts'
import type { Chromium } from '../../support/chromium.ts'
import type { Mosquitto } from '../../support/mosquitto.ts'
import { pause } from '../../support/until.ts'
import { serveWall } from '../../support/wall.ts'
import { atMost, median, verdict } from './figures.ts'
import { watchStart } from './spies.ts'

const SLOWED = 6
const RUNS = 3
/** From the first drawing until what follows it, forecasts too, has been done. */
const AFTER_MILLISECONDS = 12_000
const REST_SECONDS = 30

async function withTablet<T>(
  chromium: Chromium,
  broker: Mosquitto,
  register: string,
  use: (page: BrowserPage, url: string) => Promise<T>,
): Promise<T> {
  const served = await serveWall(register, broker.websocketUrl)
  const page = await chromium.newPage()
  try {
    await page.setViewport({ width: 1024, height: 600 })
    return await use(page, served.url)
  } finally {
    await page.close()
    await served.close()
  }
}

/** Of the longest tasks of a start, and in which order the sheet came. */
async function starts(
  chromium: Chromium,
  broker: Mosquitto,
  name: string,
  register: string,
  wished: string,
): Promise<void> {
  const longest: number[] = []
  const orders = new Set<string>()
  for (let run = 0; run < RUNS; run++) {
    await withTablet(chromium, broker, register, async (page, url) => {
      const cdp = await page.createCDPSession()
      await cdp.send('Emulation.setCPUThrottlingRate', { rate: SLOWED })
      await page.evaluateOnNewDocument(watchStart)
      await page.goto(url)
      await page.waitForFunction(() => window.started.seen.includes('row'))
      await pause(AFTER_MILLISECONDS)
      const { tasks, seen } = await page.evaluate(() => window.started)
      longest.push(Math.max(...tasks))
      orders.add(seen.join(', then '))
    })
  }
  const most = median(longest)
  console.log(
    `${name}, the processor slowed ${SLOWED} times: the longest task ${atMost(`${most} ms`, most, 500)}; the runs: ${longest.join(', ')}`,
  )
  const isInOrder = [...orders].every(order => order === wished)
  console.log(`  frames with ${[...orders].join(' | ')} (aim: ${wished}) ${verdict(isInOrder)}`)
}

/** What a sheet costs to which nothing comes. */
async function rest(chromium: Chromium, broker: Mosquitto, name: string, register: string): Promise<void> {
  await withTablet(chromium, broker, register, async (page, url) => {
    await page.goto(url)
    await pause(AFTER_MILLISECONDS)
    const cdp = await page.createCDPSession()
    // Of the thread's own clock: what other programs do at the time does not count.
    await cdp.send('Performance.enable', { timeDomain: 'threadTicks' })
    const read = async () => {
      const { metrics } = await cdp.send('Performance.getMetrics')
      const of = (wanted: string) => metrics.find(({ name }) => name === wanted)!.value
      return { layouts: of('LayoutCount'), seconds: of('TaskDuration') }
    }
    const before = await read()
    await pause(REST_SECONDS * 1000)
    const after = await read()
    const layouts = (after.layouts - before.layouts) / REST_SECONDS
    const share = (100 * (after.seconds - before.seconds)) / REST_SECONDS
    console.log(
      `${name}, at rest for ${REST_SECONDS} s: ${atMost(`${layouts.toFixed(2)} layouts a second`, layouts, 1)}, ${share.toFixed(2)} % of a core (aim: under 0.5) ${verdict(share < 0.5)}`,
    )
  })
}

export async function onTablet(chromium: Chromium, broker: Mosquitto): Promise<void> {
  const houses = [
    [
      '26 openings on their elevations',
      readFileSync('examples/ropewalk.yaml', 'utf8'),
      'headline, then house, then row',
    ],
    ['a schedule of 500 rows', largeHouse(broker, 500), 'headline, then row'],
  ] as const
  for (const [name, register, wished] of houses) {
    await starts(chromium, broker, name, register, wished)
    await rest(chromium, broker, name, register)
  }
}
