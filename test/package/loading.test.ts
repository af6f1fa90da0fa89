import { readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type PageFile, startPage } from '../../src/cli/tally/page.ts'
import { type Chromium, haveChromium, startChromium } from '../support/chromium.ts'

const card = readFileSync(new URL('../../dist/sash-tally.js', import.meta.url), 'utf8')

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
})
