import { PNG } from 'pngjs'
import { describe, expect, test } from 'vitest'
import { iconPng, iconSvg } from '../../src/cli/tally/icon.ts'
import { haveChromium, startChromium } from '../support/chromium.ts'

describe('the icon as PNG', () => {
  test.each([
    [6, 192],
    [16, 512],
  ])('at scale %i is a sound file of %i pixels a side, without transparency', (scale, side) => {
    const bytes = iconPng(scale)
    // Reads every chunk with its check sum.
    const { width, height, data } = PNG.sync.read(Buffer.from(bytes), { checkCRC: true })
    expect([width, height]).toEqual([side, side])
    expect(data.every((value, index) => index % 4 !== 3 || value === 255)).toBe(true)
    expect(bytes.length).toBeLessThan(2_000)
  })

  test(haveChromium.title('is what a browser makes of the SVG, pixel by pixel'), {
    skip: haveChromium.skip,
  }, async () => {
    const chromium = await startChromium()
    try {
      const page = await chromium.newPage()
      await page.setViewport({ width: 192, height: 192 })
      await page.setContent(`<style>body { margin: 0 } svg { display: block; width: 192px }</style>${iconSvg()}`)
      const drawn = PNG.sync.read(Buffer.from(await page.screenshot()))
      const made = PNG.sync.read(Buffer.from(iconPng(6)))
      expect([drawn.width, drawn.height]).toEqual([192, 192])
      expect(drawn.data.equals(made.data)).toBe(true)
    } finally {
      await chromium.close()
    }
  })
})
