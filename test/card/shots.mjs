// Pictures of the card in fixture states, sizes and sheets: node test/card/shots.mjs [folder] [names, in part, by comma].
// The reviewed ones: node test/card/shots.mjs test/card/pictures reviewed
import { copyFileSync, existsSync, mkdirSync } from 'node:fs'
import { resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import puppeteer from 'puppeteer-core'
import { serveStage } from './serve-stage.mjs'

const here = path => fileURLToPath(new URL(path, import.meta.url))
const folder = process.argv[2] ?? here('../../.tmp/shots')
/** Kept in the repository and compared by a test; made anew on purpose only. */
const REVIEWED = [
  'evening-tablet-paper',
  'evening-tablet-blueprint',
  'evening-phone-paper',
  'evening-square-blueprint',
  'evening-wall-paper',
  'story-tablet-paper',
  'last-look-tablet-paper',
  'down-tablet-paper',
]
/** Stands in the README too. */
const ON_README = 'evening-tablet-paper'
const only = process.argv[3] ?? ''
const wanted = name =>
  only === 'reviewed' ? REVIEWED.includes(name) : only.split(',').some(part => name.includes(part))
mkdirSync(folder, { recursive: true })

const live = page => page.evaluate(() => stage.live())
const heard = page =>
  page.evaluate(() => {
    stage.live()
    stage.now -= 4000
    stage.feed.hear('ropewalk/tally/register', 'no register')
    stage.now += 4000
  })
/** @param key - of what the button says, in the language of the card */
const press = key => page =>
  page.evaluate(key => {
    const card = document.querySelector('sash-tally')
    const label = words[card.lang || 'en'][key]
    const found = [...card.shadowRoot.querySelectorAll('button')].find(button => button.textContent.includes(label))
    if (!found) throw new Error(`no button says ${label}`)
    found.click()
  }, key)
const tell = mark => page =>
  page.evaluate(
    mark => document.querySelector('sash-tally').shadowRoot.querySelector(`.row-open[data-mark="${mark}"]`).click(),
    mark,
  )

const SIZES = {
  tablet: [1280, 800],
  small: [1024, 600],
  upright: [768, 1024],
  tiny: [320, 568],
  phone: [360, 740],
  wall: [1920, 1080],
  square: [300, 300],
  portrait: [800, 1280],
}
const STATES = {
  evening: [heard],
  connecting: [],
  down: [
    live,
    page =>
      page.evaluate(() => {
        stage.now += 60_000
        stage.feed.link({ state: 'down', since: stage.now })
        stage.now += 600_000
      }),
  ],
  refused: [
    page =>
      page.evaluate(() =>
        stage.feed.link({
          state: 'refused',
          since: stage.now,
          why: 'the broker does not know this user name and password',
        }),
      ),
  ],
  account: [
    page =>
      page.evaluate(() =>
        stage.feed.link({
          state: 'refused',
          since: stage.now,
          why: 'the broker does not let this account in',
          account: true,
        }),
      ),
  ],
  broken: [
    heard,
    page => page.evaluate(() => document.querySelector('sash-tally').setAttribute('register', '/nowhere.yaml')),
  ],
  calm: [
    heard,
    page =>
      page.evaluate(() => {
        const two = n => String(n).padStart(2, '0')
        const json = word => JSON.stringify({ word, boots: 40, mv: 2960 })
        for (let n = 1; n <= 23; n++) {
          const say = [10, 16, 23].includes(n) ? json : word => word
          stage.feed.hear(`ropewalk/w${two(n)}`, say('opened'))
        }
        stage.feed.hear('ropewalk/d03', 'opened')
        for (const door of ['d01', 'd02']) stage.feed.hear(`ropewalk/${door}`, 'shut')
        stage.now += 20_000
        document.dispatchEvent(new Event('visibilitychange'))
      }),
    press('lastLook'),
    page =>
      page.evaluate(() => {
        const { shadowRoot } = document.querySelector('sash-tally')
        for (const tick of shadowRoot.querySelectorAll('.tick-act')) tick.click()
      }),
    press('back'),
  ],
  'last-look': [heard, press('lastLook')],
  'while-out': [heard, press('whileOut')],
  round: [heard, press('round')],
  walking: [
    heard,
    press('round'),
    press('roundStart'),
    page =>
      page.evaluate(() => {
        stage.feed.hear('ropewalk/w01', 'opened')
      }),
  ],
  walked: [
    heard,
    press('round'),
    press('roundStart'),
    page =>
      page.evaluate(() => {
        for (const mark of ['w01', 'w02', 'w03']) stage.feed.hear(`ropewalk/${mark}`, 'opened')
      }),
    press('roundFailed'),
    press('roundStop'),
  ],
  unheard: [heard, press('round'), press('roundStart'), press('roundStop')],
  story: [heard, tell('W11')],
  noted: [heard, tell('W02'), press('looked')],
  signs: [heard, press('signs')],
  new: [live],
}

const PLAN = [
  ...Object.keys(STATES).flatMap(state =>
    Object.entries(SIZES).flatMap(([size, box]) =>
      [
        { sheet: 'paper' },
        { sheet: 'blueprint' },
        { sheet: 'paper', lang: 'de' },
        { sheet: 'blueprint', lang: 'de' },
      ].map(dress => ({ state, size, box, ...dress })),
    ),
  ),
  { state: 'evening', sheet: 'blueprint', size: 'a4', box: [794, 1123], print: true },
  { state: 'evening', sheet: 'paper', size: 'a4phone', box: [360, 740], print: true },
  ...['protanopia', 'deuteranopia', 'tritanopia', 'achromatopsia'].flatMap(eyes =>
    ['paper', 'blueprint'].map(sheet => ({ state: 'evening', sheet, size: 'tablet', box: SIZES.tablet, eyes })),
  ),
  ...['evening', 'story', 'last-look'].flatMap(state => [
    { state, sheet: 'paper', size: 'forced', box: SIZES.tablet, forced: true },
    { state, sheet: 'paper', size: 'zoom200', box: [640, 400], scale: 2 },
  ]),
]

const { origin, close } = await serveStage()

const browser = await puppeteer.launch({
  timeout: 120_000,
  protocolTimeout: 300_000,
  executablePath: [process.env.CHROME_PATH, '/usr/bin/chromium', '/usr/bin/google-chrome'].find(
    path => path && existsSync(path),
  ),
  args: [
    '--headless',
    '--no-sandbox',
    '--disable-dev-shm-usage',
    '--disable-gpu',
    '--no-first-run',
    '--disable-background-networking',
    '--disable-component-update',
    '--disable-sync',
    '--force-device-scale-factor=1',
  ],
})
let failed = 0
try {
  const tab = await browser.newPage()
  const cdp = await tab.createCDPSession()
  tab.on('console', message => {
    if (message.type() === 'error') console.log('  page says:', message.text())
  })
  tab.on('pageerror', error => {
    failed++
    console.log('  page threw:', error.message)
  })
  for (const { state, sheet, size, box, lang, print, eyes, forced, scale = 1 } of PLAN) {
    const name = [state, size, sheet, lang, eyes].filter(Boolean).join('-')
    if (!wanted(name)) continue
    await tab.setViewport({ width: box[0], height: box[1], deviceScaleFactor: scale })
    await tab.emulateVisionDeficiency(eyes ?? 'none')
    await cdp.send('Emulation.setEmulatedMedia', {
      features: forced ? [{ name: 'forced-colors', value: 'active' }] : [],
    })
    const query = new URLSearchParams({ sheet, ...(lang ? { lang } : {}), ...(state === 'new' ? { state } : {}) })
    // A walk under way outlives a reload.
    if (tab.url().startsWith(origin)) await tab.evaluate(() => sessionStorage.clear())
    await tab.goto(`${origin}/?${query}`)
    await tab.waitForFunction(
      () =>
        globalThis.stage?.feeds.length > 0 && document.querySelector('sash-tally').shadowRoot?.querySelector('.row'),
    )
    // Until its first forecast no cell is certain: a slow machine takes its time for that.
    await tab.waitForFunction(() => {
      const left = [...document.querySelector('sash-tally').shadowRoot.querySelectorAll('.row .left')]
      return left.length > 0 && left.every(each => !each.textContent.trim().startsWith('–'))
    })
    for (const step of STATES[state]) {
      await step(tab)
      await new Promise(done => setTimeout(done, 150))
    }
    // A forecast follows the last entry, a drawing the frame after that.
    await new Promise(done => setTimeout(done, 1200))
    if (print) {
      await tab.emulateMediaType('print')
      await tab.evaluate(() => dispatchEvent(new Event('beforeprint')))
    }
    await new Promise(done => setTimeout(done, 300))
    await tab.screenshot({ path: `${folder}/${name}.png`, fullPage: print === true })
    if (print) await tab.pdf({ path: `${folder}/${name}.pdf`, format: 'A4', printBackground: true })
    await tab.emulateMediaType('screen')
    // The test makes them elsewhere, to compare.
    if (resolve(folder) === resolve(here('pictures')) && name === ON_README)
      copyFileSync(`${folder}/${name}.png`, here('../../examples/wall.png'))
    console.log(name)
  }
} finally {
  await browser.close()
  close()
}
process.exitCode = failed ? 1 : 0
