import axe from 'axe-core'
import mqtt from 'mqtt'
import type { Page } from 'puppeteer-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Chromium, startChromium } from '../support/chromium.ts'
import { needs } from '../support/missing.ts'
import { Mosquitto } from '../support/mosquitto.ts'
import { Studios } from '../support/studios.ts'
import { until } from '../support/until.ts'

const both = needs('mosquitto', 'chromium')
const NAMES = ['dye', 'hatchel', 'rope', 'tar', 'walk']
const SIZES = [
  [360, 740],
  [1024, 768],
  [1920, 1080],
] as const

describe.skipIf(both.skip)(both.title('the page of houses in Chromium'), () => {
  let broker: Mosquitto
  let chromium: Chromium
  let studios: Studios
  let serving: Awaited<ReturnType<Studios['serve']>>
  let page: Page
  const complaints: string[] = []

  beforeAll(async () => {
    broker = await Mosquitto.start({ persistence: 'at-once' })
    chromium = await startChromium()
    studios = new Studios(broker)
    for (const name of NAMES) studios.house(name, { marks: name === 'walk' ? ['W01'] : [] })
    studios.write('yard.yaml', 'house: [\n')
    serving = await studios.serve()
    page = await chromium.newPage()
    page.on('pageerror', error => complaints.push(String(error)))
    page.on('console', message => {
      if (message.type() === 'error' && !/Failed to load resource/.test(message.text())) complaints.push(message.text())
    })
    await page.goto(serving.page)
  })
  afterAll(async () => {
    await serving?.end()
    await chromium?.close()
    await broker?.close()
    studios?.remove()
  })

  /** Empty while the page is loaded again. */
  const text = (selector: string): Promise<string> =>
    page.evaluate(selector => document.querySelector(selector)?.textContent?.trim() ?? '', selector).catch(() => '')
  const plate = (name: string, slot: string) => text(`li:nth-child(${[...NAMES, 'yard'].indexOf(name) + 1}) ${slot}`)
  const shows = async (name: string, slot: string, what: RegExp) => {
    let seen = ''
    const isSo = async () => {
      seen = await plate(name, slot)
      return what.test(seen)
    }
    await until(`${name} to show ${what}`, isSo).catch(error => {
      throw new Error(`${error.message}; it shows ${JSON.stringify(seen)}`)
    })
  }
  const many = () => page.evaluate(() => document.querySelectorAll('li').length).catch(() => 0)
  const says = async (topic: string, word: string) => {
    const contact = await mqtt.connectAsync(broker.mqttUrl)
    await contact.publishAsync(topic, word, { qos: 1 })
    await contact.endAsync()
  }
  const places = () =>
    page.$$eval('li', all => all.map(each => JSON.stringify(each.getBoundingClientRect())).join('\n'))

  test('is live by itself, and no plate moves for what it says', async () => {
    for (const name of NAMES) await shows(name, '.keeper', /^Keeper live/)
    const before = await places()
    await says('dye/d01', 'ajar')
    await says('tar/d01', 'shut')
    await shows('dye', '.headline', /^1 may be open$/)
    await shows('tar', '.headline', /^All shut$/)
    await shows('yard', '.keeper', /^Keeper not heard yet\. The list of windows has errors or cannot be read\.$/)
    expect(await text('.summary')).toMatch(
      /^In 1 house something may be open: dye\. 1 house has no live keeper: yard\. 3 houses are not certain/,
    )
    expect(await places()).toBe(before)
  })

  test('a house comes into the page and goes again', async () => {
    studios.house('weigh')
    await until('seven', async () => (await many()) === NAMES.length + 2)
    studios.take('weigh.yaml')
    await until('six', async () => (await many()) === NAMES.length + 1)
  })

  test.each(['light', 'dark'])('axe finds nothing in %s, and nothing is wider than the page', async scheme => {
    await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }])
    for (const [width, height] of SIZES) {
      await page.setViewport({ width, height })
      await page.evaluate(axe.source)
      const { violations, passes } = await page.evaluate(
        () => (window as unknown as { axe: typeof axe }).axe.run() as Promise<axe.AxeResults>,
      )
      expect(passes.length).toBeGreaterThan(10)
      expect(violations.map(({ id, nodes }) => `${id}: ${nodes.map(node => node.html).join('; ')}`)).toEqual([])
      expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0)
      const targets = await page.$$eval('li:has(a)', all => all.map(each => [each.clientWidth, each.clientHeight]))
      expect(targets).toHaveLength(NAMES.length)
      expect(Math.min(...targets.flat())).toBeGreaterThanOrEqual(44)
    }
  })

  test('the wall of a house, opened by keyboard, has the same headline', async () => {
    await shows('dye', '.headline', /^1 may be open$/)
    await page.evaluate(() => (document.activeElement as HTMLElement | null)?.blur())
    await page.keyboard.press('Tab')
    expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Ropewalk Studios, dye')
    await Promise.all([page.waitForNavigation(), page.keyboard.press('Enter')])
    expect(page.url()).toBe(`${serving.page}dye/`)
    const headline = () =>
      page
        .evaluate(
          () =>
            document
              .querySelector('sash-tally')
              ?.shadowRoot?.querySelector('.headline')
              ?.textContent?.replace(/\s+/g, ' ')
              .trim() ?? '',
        )
        .catch(() => '')
    await until('the same headline', async () => (await headline()) === '1 may be open')
    await page.keyboard.press('Tab')
    expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('← Houses')
    await Promise.all([page.waitForNavigation(), page.keyboard.press('Enter')])
    expect(page.url()).toBe(serving.page)
    await shows('dye', '.headline', /^1 may be open$/)
  })

  test('the way back from a wall lies beside it, has its colours by night too, and is not printed', async () => {
    const wall = await chromium.newPage()
    await wall.goto(`${serving.page}dye/`)
    const box = (selector: string) =>
      wall.$eval(selector, element => {
        const { left, top, right, bottom } = element.getBoundingClientRect()
        return { left, top, right, bottom }
      })
    for (const [width, height] of [...SIZES, [1280, 800], [1024, 600], [300, 300]] as const) {
      await wall.setViewport({ width, height })
      const [margin, link, sheet] = [await box('nav'), await box('nav a'), await box('sash-tally')]
      const isBeside = margin.bottom === height
      expect(margin).toEqual(isBeside ? { ...margin, left: 0, top: 0 } : { left: 0, top: 0, right: width, bottom: 44 })
      expect(sheet).toEqual({
        ...{ left: isBeside ? margin.right : 0, top: isBeside ? 0 : margin.bottom },
        ...{ right: width, bottom: height },
      })
      expect(Math.min(link.right - link.left, link.bottom - link.top)).toBeGreaterThanOrEqual(44)
      expect(await wall.$eval('nav a', link => link.scrollWidth - link.clientWidth)).toBeLessThanOrEqual(0)
      expect(await wall.$eval('html', html => [html.scrollWidth, html.scrollHeight])).toEqual([width, height])
    }
    const colours = () =>
      wall.evaluate(() => {
        const sheet = document.querySelector('sash-tally')!.shadowRoot!.querySelector('.sheet')!
        const [of, margin] = [getComputedStyle(sheet), getComputedStyle(document.querySelector('nav')!)]
        return [of.backgroundColor, margin.backgroundColor]
      })
    const seen = new Set<string>()
    for (const scheme of ['light', 'dark'])
      for (const isNight of [false, true]) {
        await wall.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }])
        await wall.evaluate(isNight => {
          document.querySelector('sash-tally')!.shadowRoot!.querySelector('.sheet')!.classList.toggle('night', isNight)
        }, isNight)
        await until('the same colours', async () => new Set(await colours()).size === 1)
        seen.add((await colours()).join())
      }
    expect(seen.size).toBe(4)
    await wall.emulateMediaType('print')
    expect(await wall.$eval('nav', nav => getComputedStyle(nav).display)).toBe('none')
    await wall.close()
  })

  test('page and wall take back what they say of now once the broker is silent', async () => {
    await shows('tar', '.headline', /^All shut$/)
    const wall = await chromium.newPage()
    await wall.goto(`${serving.page}tar/`)
    const says = () =>
      wall.$eval('sash-tally', card =>
        [...card.shadowRoot!.querySelectorAll('.headline, .strip')]
          .map(each => each.textContent.replace(/\s+/g, ' ').trim())
          .join(' | '),
      )
    await until('the wall', async () => /^All shut/.test(await says()))
    broker.freeze()
    await shows('tar', '.headline', /^None heard open when last live$/)
    await until('the wall to doubt', async () => /^None heard open when last live .*Not live\./.test(await says()))
    broker.thaw()
    await until('the wall to be live', async () => /^All shut/.test(await says()))
    await wall.close()
  })

  test('without its server it says since when, and no all-clear', async () => {
    await shows('tar', '.headline', /^All shut$/)
    const before = await places()
    expect(await serving.end()).toBe(0)
    await until('the loss', async () =>
      /^Not live\. What you see is what was known \w+ \d+ \w+, \d\d:\d\d\.$/.test(await text('.summary')),
    )
    expect(await plate('tar', '.headline')).toBe('None heard open when last live')
    expect(await plate('dye', '.headline')).toBe('1 may be open')
    // biome-ignore lint/performance/useDomNodeTextContent: what is seen, not what is hidden
    expect(await page.$eval('body', body => body.innerText)).not.toMatch(/All shut|Keeper live/)
    expect(await places()).toBe(before)
    expect(complaints).toEqual([])
  })
})
