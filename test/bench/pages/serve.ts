import { build } from 'esbuild'
import type { Page as BrowserPage } from 'puppeteer-core'
import { startPage } from '../../../src/cli/tally/page.ts'
import type { Chromium } from '../../support/chromium.ts'
import type { Mosquitto } from '../../support/mosquitto.ts'
import { openWall, serveWall } from '../../support/wall.ts'
import { type sheetAsText, spyOnCard } from './spies.ts'

export interface Opened {
  readonly page: BrowserPage
  close(): Promise<void>
}

const scripts = new Map<string, string>()

async function scriptOf(name: string): Promise<string> {
  const known = scripts.get(name)
  if (known !== undefined) return known
  const { outputFiles } = await build({
    entryPoints: [`test/bench/pages/${name}.ts`],
    bundle: true,
    minify: true,
    format: 'iife',
    write: false,
    platform: 'browser',
    define: { global: 'globalThis' },
    logLevel: 'error',
  })
  const script = outputFiles[0]!.text
  scripts.set(name, script)
  return script
}

/** A reference page of this folder, live. */
export async function openReference(
  chromium: Chromium,
  broker: Mosquitto,
  name: 'bare' | 'list',
  watch = '',
  sheet: ReturnType<typeof sheetAsText> = { html: '', waiting: '', css: '' },
): Promise<Opened> {
  const body = `<!doctype html><html lang="en"><meta charset="utf-8"><title>reference</title><link rel="stylesheet" href="page.css"><body><sash-tally></sash-tally><script src="page.js"></script></body></html>`
  const { wallFiles } = await import('../../../src/cli/tally/wall-page.ts')
  const served = await startPage({
    port: 0,
    files: new Map([
      ['/', { type: 'text/html', body } as const],
      ...wallFiles('reference'),
      ['/page.js', { type: 'text/javascript', body: await scriptOf(name) } as const],
      ['/sheet.json', { type: 'application/json', body: JSON.stringify(sheet) } as const],
    ]),
  })
  const page = await chromium.newPage()
  await page.setBypassCSP(true)
  await page.setViewport({ width: 1280, height: 800 })
  await page.goto(`${served.url}?watch=${watch}&broker=${encodeURIComponent(broker.websocketUrl)}`)
  await page.waitForSelector('body.live')
  return {
    page,
    close: async () => {
      await page.close()
      await served.close()
    },
  }
}

/** The card over a register, live, its drawings noted. */
export async function openCard(
  chromium: Chromium,
  broker: Mosquitto,
  register: string,
  watch: string,
  rows: number,
): Promise<Opened> {
  const served = await serveWall(register, broker.websocketUrl)
  const wall = await openWall(chromium, served.url, async page => {
    await page.evaluateOnNewDocument(spyOnCard, watch, rows)
  })
  await wall.shows('.link', /^live/)
  await wall.page.waitForFunction(() => window.first !== undefined)
  return {
    page: wall.page,
    close: async () => {
      await wall.page.close()
      await served.close()
    },
  }
}
