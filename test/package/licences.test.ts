import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { dirname, join, resolve } from 'node:path'
import { type OutputOptions, type Plugin, type RollupOptions, rollup } from 'rollup'
import { expect, test } from 'vitest'
import { card as config } from '../../rollup.config.mjs'

const root = resolve(import.meta.dirname, '../..')
const words = (text: string): string => text.replace(/\s+/g, ' ').trim()

/** The folder of the package that a module belongs to. */
function packageOf(module: string): string {
  for (let folder = dirname(module); ; folder = dirname(folder)) {
    if (existsSync(join(folder, 'package.json')) && JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8')).name)
      return folder
  }
}

test('the licence of every module in the one-file card travels with it, whole', async () => {
  const plugins = config.plugins.filter(plugin => (plugin as Plugin).name !== 'minify')
  const bundle = await rollup({ ...config, plugins } as RollupOptions)
  const { output } = await bundle.generate({ ...config.output, file: undefined } as OutputOptions)
  await bundle.close()
  const left = Object.entries(output[0].modules).filter(([, { renderedLength }]) => renderedLength > 0)
  const folders = new Set(left.map(([module]) => packageOf(module)))
  expect(folders.size).toBeGreaterThan(5)
  expect(folders).toContain(root)
  const card = words(readFileSync(join(root, 'dist/sash-tally.js'), 'utf8'))
  for (const folder of folders) {
    const { name, license } = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8'))
    expect(['MIT', 'ISC', 'BSD-3-Clause'], name).toContain(license)
    const file = readdirSync(folder).find(each => /^licen[cs]e/i.test(each))!
    const paragraphs = readFileSync(join(folder, file), 'utf8')
      .split(/\n\s*\n/)
      .map(words)
    // A title such as "MIT License" may stand alone, or above the line of the copyright.
    const asked = paragraphs
      .map(paragraph => paragraph.replace(/^[\w\s-]*licen[cs]e(?: \(\w+\))?(?= Copyright|$)/i, '').trim())
      .filter(Boolean)
    expect(asked.length, name).toBeGreaterThan(2)
    for (const paragraph of asked) expect(card, `${name}: ${paragraph}`).toContain(paragraph)
  }
})
