import { createServer, type Socket } from 'node:net'
import axe from 'axe-core'
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest'
import type { Page } from '../../src/cli/tally/page.ts'
import { listen, stop } from '../../src/link/listen.ts'
import { type Chromium, startChromium } from '../support/chromium.ts'
import { Contact, coinFacts, wake, yardFacts } from '../support/contact.ts'
import { needs } from '../support/missing.ts'
import { Mosquitto } from '../support/mosquitto.ts'
import { pause, until } from '../support/until.ts'
import { openWall, serveWall, type Wall } from '../support/wall.ts'
import { smallHouse } from './houses.ts'

const both = needs('mosquitto', 'chromium')
const coin = (mark: string) => coinFacts(mark, { keepAliveSeconds: 2 })

describe.skipIf(both.skip)(both.title('the card in Chromium on mosquitto'), () => {
  let chromium: Chromium
  const cleaning: (() => Promise<unknown>)[] = []
  beforeAll(async () => {
    chromium = await startChromium()
  })
  afterEach(async () => {
    for (const clean of cleaning.splice(0).reverse()) await clean()
  })
  afterAll(() => chromium?.close())

  interface Set {
    readonly broker: Mosquitto
    readonly wall: Wall
    readonly served: Page
    readonly at: { readonly host: string; readonly port: number }
  }
  async function setUp(options?: Parameters<typeof Mosquitto.start>[0]): Promise<Set> {
    const broker = await Mosquitto.start(options)
    cleaning.push(() => broker.close())
    const served = await serveWall(smallHouse(broker), broker.websocketUrl)
    cleaning.push(() => served.close())
    const wall = await openWall(chromium, served.url)
    cleaning.push(() => wall.page.close())
    return { broker, wall, served, at: { host: '127.0.0.1', port: broker.mqttPort } }
  }
  const live = (wall: Wall) => wall.shows('.link', /^live/)

  test('an opening appears; the will makes it opened, never closed; a reload keeps the tally and counts no kept copy', async () => {
    const { wall, at } = await setUp()
    await live(wall)
    await wall.page.evaluate(() => {
      const seen: string[] = []
      Object.assign(window, { seen })
      document.addEventListener('sash-opened', event => seen.push(`event ${(event as Event & { mark: string }).mark}`))
      const root = document.querySelector('sash-tally')?.shadowRoot
      const note = () => {
        const row = root?.querySelector('.row-open[data-mark="W01"]')?.closest('li')
        const text = `${row?.className} ${row?.querySelector('.say')?.textContent}`
        if (seen.at(-1) !== text) seen.push(text)
      }
      new MutationObserver(note).observe(root!, {
        subtree: true,
        childList: true,
        characterData: true,
        attributes: true,
      })
    })
    await wake(coin('W01'), at)
    expect(await wall.says('W01', /^open since \d\d:\d\d/)).toMatchObject({ tone: expect.stringContaining('open') })
    expect(await wall.text('.headline')).toBe('1 may be open')
    await wall.says('W01', /^opened \d\d:\d\d, nobody has seen it shut/)
    expect(await wall.text('.headline')).toBe('1 may be open')
    const seen = await wall.page.evaluate(() => (window as unknown as { seen: string[] }).seen)
    expect(seen.filter(each => each === 'event W01')).toHaveLength(1)
    expect(seen.join('\n')).not.toMatch(/closed|(?<!seen it )shut/)
    expect(await wall.counted('W01')).toEqual({ sends: 1, openings: 1 })

    await wall.reload()
    await live(wall)
    // Kept copies come before what is published after they were asked for.
    await wake(coin('W02'), at)
    await wall.says('W02', /^open/)
    expect((await wall.row('W01'))?.say).toMatch(/^opened \d\d:\d\d, nobody has seen it shut/)
    expect(await wall.counted('W01')).toEqual({ sends: 1, openings: 1 })
    expect(await wall.counted('W02')).toEqual({ sends: 1, openings: 1 })
    expect(wall.complaints).toEqual([])
  })

  test('"I looked, it is shut" makes it closed, and stays so after a reload', async () => {
    const { wall, at } = await setUp()
    await live(wall)
    await wake(coin('W01'), at)
    await wall.says('W01', /nobody has seen it shut/)
    await wall.press('I looked, it is shut')
    await wall.says('W01', /seen shut/)
    await wall.shows('.deed', /W01 seen shut, noted/)
    // A person's word is kept at once.
    await wall.page.reload()
    await live(wall)
    expect((await wall.row('W01'))?.say).toMatch(/seen shut/)
    expect(wall.complaints).toEqual([])
  })

  test('a key that is pressed twice ticks one opening, and after an undo it presses no other act', async () => {
    const { wall, at } = await setUp()
    await live(wall)
    for (const mark of ['W01', 'W02']) await wake(coin(mark), at)
    for (const mark of ['W01', 'W02']) await wall.says(mark, /nobody has seen it shut/)
    await wall.press('Last look round')
    await wall.shows('.last-look h2', /Last look round/)
    const focus = (selector: string) =>
      wall.page.evaluate(selector => {
        document.querySelector('sash-tally')!.shadowRoot!.querySelector<HTMLElement>(selector)!.focus()
      }, selector)
    for (const key of ['Enter', 'Space'] as const) {
      await wall.shows('.headline', /^2 may be open/)
      await focus('.tick-act')
      await wall.page.keyboard.press(key)
      await wall.shows('.headline', /^1 may be open/)
      await wall.page.keyboard.press(key)
      await pause(400)
      expect(await wall.text('.headline')).toBe('1 may be open')
      await focus('.undo')
      await wall.page.keyboard.press(key)
      await wall.shows('.headline', /^2 may be open/)
      await pause(500)
      await wall.page.keyboard.press(key)
      await pause(400)
      expect(await wall.text('.headline')).toBe('2 may be open')
    }
  })

  test('a door that reports both edges is closed when it says so, and a kept word is known after a reload without counting', async () => {
    const { wall, at } = await setUp()
    await live(wall)
    const door = await Contact.join(yardFacts('D01'), at)
    cleaning.push(async () => door.drop())
    await door.say('ajar')
    await wall.says('D01', /^open since/)
    await door.say('shut')
    await wall.says('D01', /^closed/)
    await wall.reload()
    await live(wall)
    await wall.says('D01', /^closed/)
    expect(await wall.counted('D01')).toMatchObject({ openings: 1 })
  })

  test('a broker that stops is shown as stale, and healed when it is back', async () => {
    const { wall, broker, at } = await setUp()
    await live(wall)
    await broker.stop()
    await wall.shows('.link', /^no link since \d\d:\d\d/)
    await wall.shows('.bands', /Not live. What you see is what was known/)
    expect(await wall.text('.headline')).not.toMatch(/All shut/)
    await broker.start()
    await wall.shows('.link', /^live/, 45)
    await wall.shows('.bands', /^$/)
    await wake(coin('W02'), at)
    await wall.says('W02', /^open since/)
    expect(wall.complaints).toEqual([])
  })

  test('a broker that asks for an account gets it from the wall, once', async () => {
    const { wall } = await setUp({ accounts: { onlooker: 'sesame' } })
    await wall.shows('.account h2', /^This wall needs a user name and a password/)
    await wall.page.evaluate(() => {
      const root = document.querySelector('sash-tally')?.shadowRoot
      const [user, password] = root?.querySelectorAll<HTMLInputElement>('form input') ?? []
      for (const [field, text] of [
        [user, 'onlooker'],
        [password, 'sesame'],
      ] as const) {
        field!.value = text
        field!.dispatchEvent(new Event('input', { bubbles: true }))
      }
      root?.querySelector('form')?.requestSubmit()
    })
    await live(wall)
    await wall.reload()
    await live(wall)
    expect(await wall.page.content()).not.toContain('sesame')
  })

  test('names and payloads stay text, whatever they say', async () => {
    const { wall, at } = await setUp()
    await live(wall)
    expect((await until('the row', () => wall.row('W03'))).name).toBe('<img src=x onerror=alert(1)>')
    const contact = await Contact.join(coin('W03'), at)
    cleaning.push(async () => contact.drop())
    await contact.say('<img src=x onerror=alert(2)><script>alert(3)</script>')
    await until('the unknown word', async () => (await wall.row('W03'))?.odd)
    expect((await wall.row('W03'))?.odd).toBe(
      '1 unknown word, last “\u2068<img src=x onerror=alert(2)><script>alert(3)</script>\u2069”',
    )
    await contact.say('\u0000\u202e\ud83d'.repeat(2000))
    await until('the second', async () => (await wall.row('W03'))?.odd.startsWith('2 unknown words'))
    expect(((await wall.row('W03'))?.odd ?? '').length).toBeLessThan(600)
    const elements = await wall.page.evaluate(
      () => document.querySelector('sash-tally')?.shadowRoot?.querySelectorAll('img, script').length,
    )
    expect(elements).toBe(0)
    expect((await wall.row('W03'))?.say).toMatch(/no word yet/)
    expect(wall.complaints).toEqual([])
  })

  test.each(['paper', 'blueprint'])('axe finds nothing on %s', async sheet => {
    const { wall, at } = await setUp()
    await live(wall)
    await wall.page.evaluate(sheet => document.querySelector('sash-tally')?.setAttribute('sheet', sheet), sheet)
    await wake(coin('W01'), at)
    await wall.says('W01', /nobody has seen it shut/)
    const door = await Contact.join(yardFacts('D01'), at)
    cleaning.push(async () => door.drop())
    await door.say('ajar')
    await wall.says('D01', /^open since/)
    await wake(coin('W02'), at)
    await wall.says('W02', /^open since/)
    await wall.page.evaluate(axe.source)
    const found = async () => {
      const { violations, passes } = await wall.page.evaluate(
        () => (window as unknown as { axe: typeof axe }).axe.run() as Promise<axe.AxeResults>,
      )
      expect(passes.length).toBeGreaterThan(10)
      return violations.map(
        each => `${each.id}: ${each.nodes.map(node => `${node.target} ${node.failureSummary}`).join('; ')}`,
      )
    }
    expect(await found()).toEqual([])
    await wall.page.evaluate(() =>
      document.querySelector('sash-tally')?.shadowRoot?.querySelector<HTMLElement>('.row-open[data-mark]')?.click(),
    )
    await wall.shows('.story', /What this rests on|\w/)
    expect(await found()).toEqual([])
  })

  test('it paints before any broker has answered', async () => {
    const sockets: Socket[] = []
    const mute = createServer(socket => void sockets.push(socket))
    const port = await listen(mute, 0, '127.0.0.1')
    const url = { mqttUrl: 'mqtt://127.0.0.1:1883', websocketUrl: `ws://127.0.0.1:${port}` }
    const served = await serveWall(smallHouse(url), url.websocketUrl)
    cleaning.push(() => served.close())
    const wall = await openWall(chromium, served.url)
    cleaning.push(() => wall.page.close())
    expect(await wall.text('.link')).toBe('connecting')
    expect(await until('the row', () => wall.row('W02'))).toMatchObject({ name: 'Dye room, south' })
    await wall.page.close()
    cleaning.pop()
    for (const socket of sockets) socket.destroy()
    await stop(mute)
  })

  test('on an https page a ws:// address is refused with the way out', async () => {
    const url = { mqttUrl: 'mqtt://broker.lan:1883', websocketUrl: 'ws://broker.lan:9001' }
    const served = await serveWall(smallHouse(url), url.websocketUrl)
    cleaning.push(() => served.close())
    const wall = await openWall(chromium, 'https://wall.example/', async page => {
      await page.setRequestInterception(true)
      page.on('request', async request => {
        const { pathname } = new URL(request.url())
        const from = await fetch(new URL(pathname, served.url))
        const headers = Object.fromEntries(from.headers)
        await request.respond({ status: from.status, headers, body: Buffer.from(await from.arrayBuffer()) })
      })
    })
    cleaning.push(() => wall.page.close())
    await wall.shows('.bands', /A page on https cannot open ws:\/\/.*wss:\/\//)
  })
})
