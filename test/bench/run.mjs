// Runs every benchmark beside this file, or those whose names are given; each prints ratios from this one run.
import { readdirSync } from 'node:fs'

const wanted = process.argv.slice(2)
const files = readdirSync(new URL('.', import.meta.url)).filter(name => name.endsWith('.bench.mjs'))
for (const file of files.sort()) {
  const name = file.replace('.bench.mjs', '')
  if (wanted.length && !wanted.includes(name)) continue
  console.log(`\n== ${name}`)
  const { run } = await import(new URL(file, import.meta.url))
  await run()
}
