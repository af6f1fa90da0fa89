import { readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type PageFile, startPage } from '../../src/cli/tally/page.ts'
import { type Chromium, haveChromium, startChromium } from '../support/chromium.ts'
import { until } from '../support/until.ts'

const read = (name: string) => readFileSync(new URL(`../../dist/${name}`, import.meta.url), 'utf8')
const card = read('sash-tally.js')

/** How a page may bring in the one file, and a copy of it beside it. */
const WAYS: Record<string, string> = {
  'as a classic script': '<script src="/card.js"></script>',
  'as a module': '<script type="module" src="/card.js"></script>',
  'by import': '<script type="module" src="/imports.js"></script>',
  'by dynamic import': '<script src="/later.js"></script>',
  'twice, as a script': '<script src="/card.js"></script><script src="/copy.js"></script>',
  'twice, as a script and as a module':
    '<script src="/card.js"></script><script type="module" src="/copy.js"></script>',
}

describe(haveChromium.title('the one-file card'), { skip: haveChromium.skip }, () => {
  let chromium: Chromium
  beforeAll(async () => {
    chromium = await startChromium()
  })
  afterAll(() => chromium.close())

  for (const [way, scripts] of Object.entries(WAYS)) {
    test(`loads ${way}, and draws`, async () => {
      const script = (body: string): PageFile => ({ type: 'text/javascript', body })
      const html = `<!doctype html><html lang="en"><title>card</title><body>${scripts}<sash-tally register="/none.yaml"></sash-tally></body></html>`
      const files = new Map<string, PageFile>([
        ['/', { type: 'text/html', body: html }],
        ['/card.js', script(card)],
        ['/copy.js', script(card)],
        ['/imports.js', script("import './card.js'")],
        ['/later.js', script("import('./card.js')")],
        ['/none.yaml', { type: 'text/yaml', body: 'house: Ropewalk Studios\n' }],
      ])
      const served = await startPage({ files, port: 0 })
      const page = await chromium.newPage()
      const errors: string[] = []
      page.on('pageerror', error => errors.push(String(error)))
      try {
        await page.goto(served.url)
        await page.waitForFunction(() =>
          document.querySelector('sash-tally')?.shadowRoot?.textContent?.includes('openings'),
        )
        expect(errors).toEqual([])
      } finally {
        await page.close()
        await served.close()
      }
    })
  }

  const REGISTER = `house: Ropewalk Studios
timezone: Europe/Berlin
broker: { mqtt: mqtt://broker.lan, websocket: ws://127.0.0.1:9 }
tally: ropewalk/tally
senders:
  coin: { reports: openings, load: cold-join, cell: CR2032, keepAliveSeconds: 4, words: { opened: opened, rest: asleep } }
openings:
  - { mark: W01, name: Dye room, sender: coin }
`
  for (const [way, scripts] of Object.entries(WAYS).slice(0, 4)) {
    test(`loaded ${way}, it forecasts by the second file, asked for from beside itself`, async () => {
      const { left, errors } = await standing(scripts, read('sash-tally-forecast.js'))
      expect(left).toMatch(/^\d+ .*\d+ to \d+/)
      expect(errors).toEqual([])
    })
  }

  test('without the second file it draws what was counted, the sheet says so, and the console once what is missing', async () => {
    const { left, strip, errors } = await standing(WAYS['as a module']!, undefined)
    expect(left).toMatch(/^–/)
    expect(strip).toContain('lacks a file and cannot forecast the cells: no silent contact is certain')
    expect(errors).toHaveLength(1)
    expect(errors[0]).toMatch(/no forecasts: something is wrong with sash-tally-forecast\.js/)
  })

  test('a second file of another version is not believed', async () => {
    const other = 'export function* forecastHouse() { return { left: { W01: { p50: "many" } }, modelSends: {} } }'
    const { left, errors } = await standing(WAYS['as a module']!, other)
    expect(left).toMatch(/^–/)
    expect(errors).toHaveLength(1)
    expect(errors[0]).toMatch(/another version/)
  })

  /** What a row says is left, in a wall without a keeper in a folder of the server, under the strict policy. */
  async function standing(scripts: string, second: string | undefined) {
    const script = (body: string): PageFile => ({ type: 'text/javascript', body })
    const inFolder = scripts.replaceAll('src="/', 'src="/parts/')
    const html = `<!doctype html><html lang="en"><title>card</title><body>${inFolder}<sash-tally register="/house.yaml" broker="ws://127.0.0.1:9"></sash-tally></body></html>`
    const files = new Map<string, PageFile>([
      ['/', { type: 'text/html', body: html }],
      ['/house.yaml', { type: 'text/yaml', body: REGISTER }],
      ['/parts/card.js', script(card)],
      ['/parts/imports.js', script("import './card.js'")],
      ['/parts/later.js', script("import('./card.js')")],
      ...(second === undefined ? [] : [['/parts/sash-tally-forecast.js', script(second)] as const]),
    ])
    const served = await startPage({ files, port: 0 })
    const page = await chromium.newPage()
    const errors: string[] = []
    page.on('pageerror', error => errors.push(String(error)))
    const left = () =>
      page.evaluate(
        () => document.querySelector('sash-tally')?.shadowRoot?.querySelector('.row .left')?.textContent?.trim() ?? '',
      )
    try {
      await page.goto(served.url)
      await until('the forecast, or what is missing', async () => /^\d/.test(await left()) || errors.length > 0)
      const strip = () =>
        page.evaluate(
          () => document.querySelector('sash-tally')?.shadowRoot?.querySelector('.strip')?.textContent ?? '',
        )
      if (errors.length > 0) await until('the strip', async () => (await strip()).includes('lacks a file'))
      return { left: await left(), strip: await strip(), errors }
    } finally {
      await page.close()
      await served.close()
    }
  }
})
