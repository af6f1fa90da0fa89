// What the one-file card weighs, and what each part of it weighs on its own.
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { gzipSync } from 'node:zlib'
import { rollup } from 'rollup'
import { card as config } from '../../rollup.config.mjs'

const root = fileURLToPath(new URL('../..', import.meta.url))
const kilobytes = bytes => `${(bytes / 1000).toFixed(1)} kB`
const LIMITS = { 'with one machine under keeper and wall': 132_000, 'with the whole wall': 136_000 }

const partOf = id => {
  const name = /node_modules\/((?:@[^/]+\/)?[^/]+)\/(?!.*node_modules\/)/.exec(id)?.[1]
  if (name) return name.startsWith('@lit') || name.startsWith('lit') ? 'lit' : name
  return /src\/(card\/(?:draw|words|styles|views|controllers)|\w+)/.exec(id)?.[1] ?? 'stand-ins'
}

export async function run() {
  const whole = gzipSync(readFileSync(`${root}dist/sash-tally.js`), { level: 9 }).length
  for (const [name, limit] of Object.entries(LIMITS)) {
    console.log(`${name}: ${whole} bytes gzip, limit ${limit}: ${(whole / limit).toFixed(3)}`)
  }
  const bundle = await rollup({ ...config, plugins: config.plugins.filter(plugin => plugin.name !== 'minify') })
  const { output } = await bundle.generate({ ...config.output, file: undefined, format: 'es' })
  await bundle.close()
  const parts = new Map()
  for (const [id, { code, renderedLength }] of Object.entries(output[0].modules)) {
    if (renderedLength === 0 || !code) continue
    parts.set(partOf(id), (parts.get(partOf(id)) ?? '') + code)
  }
  const sizes = [...parts].map(([part, code]) => [part, gzipSync(code, { level: 9 }).length])
  const sum = sizes.reduce((total, [, size]) => total + size, 0)
  console.log('each part alone, before minifying, and its share:')
  for (const [part, size] of sizes.sort((a, b) => b[1] - a[1])) {
    console.log(`  ${part.padEnd(18)} ${kilobytes(size).padStart(9)}  ${((100 * size) / sum).toFixed(1)} %`)
  }
}
