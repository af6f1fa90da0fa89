import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Chromium, haveChromium, startChromium } from '../support/chromium.ts'
import { serveStage } from './serve-stage.mjs'

describe.skipIf(haveChromium.skip)(haveChromium.title('the sheet on A4'), () => {
  let chromium: Chromium
  let served: Awaited<ReturnType<typeof serveStage>>
  beforeAll(async () => {
    ;[chromium, served] = await Promise.all([startChromium(), serveStage()])
  })
  afterAll(async () => {
    await chromium?.close()
    served?.close()
  })

  test.each(['en', 'de'])('takes one page for 26 openings, key and who looked with it: %s', async lang => {
    const page = await chromium.newPage()
    await page.goto(`${served.origin}/?lang=${lang}&sheet=blueprint`)
    await page.waitForFunction(() => document.querySelector('sash-tally')?.shadowRoot?.querySelector('.row'))
    await page.evaluate(() => dispatchEvent(new Event('beforeprint')))
    const foot = await page.evaluate(
      () => document.querySelector('sash-tally')!.shadowRoot!.querySelector('.printed')!.textContent!,
    )
    expect(foot).toMatch(lang === 'en' ? /Looked: who, when/ : /Nachgesehen: wer, wann/)
    const margin = { top: '10mm', bottom: '10mm', left: '10mm', right: '10mm' }
    const pdf = Buffer.from(await page.pdf({ format: 'A4', margin })).toString('latin1')
    expect(pdf.match(/\/Type\s*\/Page\b/g)).toHaveLength(1)
    await page.close()
  })
})
