import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest'
import type { PageFile } from '../../src/cli/tally/page.ts'
import { wallPage } from '../../src/cli/tally/wall-page.ts'
import { builtCommand } from '../support/built.ts'
import { type Chromium, startChromium } from '../support/chromium.ts'
import { coinFacts, wake } from '../support/contact.ts'
import { KeeperProcess } from '../support/keeper-process.ts'
import { needs } from '../support/missing.ts'
import { Mosquitto } from '../support/mosquitto.ts'
import { until } from '../support/until.ts'
import { openWall, serveWall, type Wall } from '../support/wall.ts'
import { smallHouse } from './houses.ts'

const both = needs('mosquitto', 'chromium')

describe.skipIf(both.skip)(both.title('two tablets of one house, with a keeper, on mosquitto'), () => {
  let chromium: Chromium
  let command: Awaited<ReturnType<typeof builtCommand>>
  const cleaning: (() => Promise<unknown>)[] = []
  beforeAll(async () => {
    ;[chromium, command] = await Promise.all([startChromium(), builtCommand()])
  })
  afterEach(async () => {
    for (const clean of cleaning.splice(0).reverse()) await clean()
  })
  afterAll(async () => {
    await chromium?.close()
    command?.remove()
  })

  /** Two walls at once, each a page of its own with its own name. */
  async function setUp() {
    const broker = await Mosquitto.start()
    cleaning.push(() => broker.close())
    const folder = await mkdtemp(join(tmpdir(), 'sashtally-tablets-'))
    cleaning.push(() => rm(folder, { recursive: true, force: true }))
    const file = join(folder, 'ropewalk.yaml')
    await writeFile(file, smallHouse(broker))
    const keeper = new KeeperProcess(command.path, file, join(folder, 'tally'))
    cleaning.push(() => keeper.kill())
    keeper.start()
    await keeper.live()
    const pageOf = (by: string): [string, PageFile] => [
      `/${by}`,
      wallPage({ title: 'Ropewalk Studios', tally: 'ropewalk/tally', broker: broker.websocketUrl, maySay: true, by }),
    ]
    const served = await serveWall('', broker.websocketUrl, Object.fromEntries(['hall', 'loft'].map(pageOf)))
    cleaning.push(() => served.close())
    const walls = await Promise.all(
      ['hall', 'loft'].map(async name => {
        // Two tablets share neither storage nor locks.
        const context = await chromium.browser.createBrowserContext()
        cleaning.push(() => context.close())
        return openWall({ ...chromium, newPage: () => context.newPage() }, new URL(name, served.url).href)
      }),
    )
    const [hall, loft] = walls as [Wall, Wall]
    for (const wall of walls) await wall.shows('.link', /^live/)
    const at = { host: '127.0.0.1', port: broker.mqttPort }
    const open = async (mark: string) => {
      await wake(coinFacts(mark, { keepAliveSeconds: 2 }), at)
      for (const wall of walls) await wall.says(mark, /nobody has seen it shut/)
    }
    return { broker, keeper, hall, loft, open }
  }

  /** Presses until the keeper has noted it: what says that a word may still be noted is no answer. */
  const sayUntilNoted = (wall: Wall): Promise<unknown> =>
    until('the box to take it', async () => {
      if (/^W01 seen shut, noted/.test(await wall.text('.house-box .deed'))) return true
      await wall.press('I looked, it is shut').catch(() => {})
      return false
    })

  test('what one says the other sees, and so it sees what is taken back', async () => {
    const { hall, loft, open } = await setUp()
    await open('W01')
    await hall.press('I looked, it is shut')
    await hall.shows('.house-box .deed', /^W01 seen shut, noted/)
    // The answer may come before the keeper's reading.
    for (const wall of [hall, loft]) await wall.shows('.headline', /^None heard open, 3 not certain/)
    await hall.press('Take back')
    await loft.says('W01', /nobody has seen it shut/)
    await hall.says('W01', /nobody has seen it shut/)
    for (const wall of [hall, loft]) expect(wall.complaints).toEqual([])
  })

  test('both say it at once: both are answered, and each takes back its own alone', async () => {
    const { hall, loft, open } = await setUp()
    await open('W01')
    await Promise.all([hall, loft].map(wall => wall.press('I looked, it is shut')))
    for (const wall of [hall, loft]) {
      await wall.shows('.house-box .deed', /^W01 seen shut, noted/)
      await wall.says('W01', /seen shut/)
    }
    await hall.press('Take back')
    await hall.shows('.deed', /^Taken back/)
    // The other's look stands.
    for (const wall of [hall, loft]) expect((await wall.row('W01'))?.say).toMatch(/seen shut/)
    await loft.press('Take back')
    for (const wall of [hall, loft]) await wall.says('W01', /nobody has seen it shut/)
  })

  test('a look round on one is gone on with on the other', async () => {
    const { hall, loft, open } = await setUp()
    for (const mark of ['W01', 'W02', 'W03']) await open(mark)
    await hall.press('Last look round')
    await hall.shows('.last-look h2', /Last look round/)
    await hall.page.evaluate(() => {
      const ticks = document.querySelector('sash-tally')!.shadowRoot!.querySelectorAll<HTMLElement>('.floors .tick-act')
      ticks[0]!.click()
    })
    await loft.says('W03', /seen shut/)
    await loft.press('I looked, these 2 are shut')
    await hall.shows('.headline', /^None heard open, 1 not certain/)
    await loft.shows('.headline', /^None heard open, 1 not certain/)
    await hall.press('Back to the house')
    for (const mark of ['W01', 'W02']) await hall.says(mark, /seen shut/)
  })

  test('an act is told as unanswered while the keeper is stopped, and noted once it comes back', async () => {
    const { keeper, hall, loft, open } = await setUp()
    await open('W01')
    keeper.freeze()
    cleaning.push(async () => keeper.thaw())
    await hall.press('I looked, it is shut')
    await hall.shows('.house-box .deed', /^Telling the keeper/)
    await hall.shows('.house-box .deed', /No answer yet: it may still be noted/)
    expect((await hall.row('W01'))?.say).toMatch(/nobody has seen it shut/)
    keeper.thaw()
    for (const wall of [hall, loft]) await wall.says('W01', /seen shut/)
    await hall.shows('.house-box .deed', /^W01 seen shut, noted/)
  })

  test('the broker gone: nothing is said to be shut, and the act goes through when it is back', async () => {
    const { broker, hall, loft, open } = await setUp()
    await open('W01')
    await broker.stop()
    for (const wall of [hall, loft]) await wall.shows('.bands', /^Not live/)
    await hall.press('I looked, it is shut')
    expect((await hall.row('W01'))?.say).toMatch(/nobody has seen it shut/)
    await broker.start()
    for (const wall of [hall, loft]) await wall.shows('.link', /^live/)
    await sayUntilNoted(hall)
    await loft.says('W01', /seen shut/)
  })

  test('what was said to a broker that had forgotten the keeper stays unanswered, and is said again', async () => {
    const { broker, keeper, hall, loft, open } = await setUp()
    await open('W01')
    await broker.stop()
    keeper.freeze()
    cleaning.push(async () => keeper.thaw())
    await broker.start()
    for (const wall of [hall, loft]) await wall.shows('.link', /^live/)
    // Nobody has a session at this broker yet: it takes the word for nobody.
    await hall.press('I looked, it is shut')
    await hall.shows('.house-box .deed', /No answer yet: it may still be noted/)
    keeper.thaw()
    expect((await hall.row('W01'))?.say).toMatch(/nobody has seen it shut/)
    await sayUntilNoted(hall)
    for (const wall of [hall, loft]) await wall.says('W01', /seen shut/)
  })
})
