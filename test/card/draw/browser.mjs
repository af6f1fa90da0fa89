// A page in Chromium that shows the drawings of stage.ts; used by the pictures and by the tests that look at pixels.
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { build } from 'esbuild'
import puppeteer from 'puppeteer-core'

const here = new URL('.', import.meta.url).pathname

export async function openStage() {
  const bundle = await build({
    entryPoints: [join(here, 'stage.ts'), join(here, 'houses.ts')],
    bundle: true,
    format: 'iife',
    globalName: 'stage',
    write: false,
    target: 'es2022',
    outdir: 'out',
    logLevel: 'error',
  })
  const [stageCode, housesCode] = bundle.outputFiles.map(({ text }) => text)
  const profile = await mkdtemp(join(tmpdir(), 'draw-'))
  const browser = await puppeteer.launch({
    timeout: 120_000,
    protocolTimeout: 300_000,
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    userDataDir: profile,
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-dev-shm-usage',
      '--disable-gpu',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  })
  const page = await browser.newPage()
  page.on('pageerror', error => console.error(error))
  // the strictest policy that a page around the card may have
  await page.setContent(
    `<!doctype html><html lang="en"><meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'self'"><body></body></html>`,
  )
  await page.evaluate(() => {
    window.violations = []
    document.addEventListener('securitypolicyviolation', event => window.violations.push(event.violatedDirective))
  })
  await page.evaluate(`${housesCode.replace('var stage', 'var houses')}; window.houses = houses`)
  await page.evaluate(`${stageCode}; window.stage = stage`)
  const call = (name, ...args) => page.evaluate((name, args) => window.stage[name](...args), name, args)
  let isForced = false
  const stage = {
    page,
    kinds: (sheet, unit) => call('kinds', sheet, unit),
    doubts: (sheet, unit) => call('doubts', sheet, unit),
    cells: (sheet, unit, width, height) => call('cells', sheet, unit, width, height),
    picked: () => call('picked'),
    violations: () => page.evaluate(() => window.violations),
    draw: (sheet, house, area, readings) =>
      page.evaluate((...args) => window.stage.wall(...args), sheet, house, area, readings),
    small: sheet => call('small', sheet),
    wall: (sheet, _, count, roof, width, height, tags = 'noted', index = 0) =>
      page.evaluate(
        (sheet, count, roof, area, tags, index) => {
          const house = roof === 'long' ? window.houses.longHouse(count) : window.houses.houseOf(count, roof)
          if (area.height === null) delete area.height
          return window.stage.wall(sheet, house, area, [...window.houses.readingsOf(house)], index, tags)
        },
        sheet,
        count,
        roof,
        { width, height: height ?? null },
        tags,
        index,
      ),
    async shoot(path, { width, height, scale, lack = 'none', forced = false }, draw, ...args) {
      if (forced !== isForced) {
        isForced = forced
        const session = await page.createCDPSession()
        await session.send('Emulation.setEmulatedMedia', {
          features: [{ name: 'forced-colors', value: forced ? 'active' : 'none' }],
        })
      }
      await page.setViewport({ width, height, deviceScaleFactor: scale })
      await page.emulateVisionDeficiency(lack)
      const said = await draw(...args)
      const png = await page.screenshot({ fullPage: true })
      if (path) await writeFile(path, png)
      return path ? said : png
    },
    async close() {
      await browser.close()
      await rm(profile, { recursive: true, force: true })
    },
  }
  return stage
}
