// The wall in Chromium on mosquitto, against references in the same run.
import { rm } from 'node:fs/promises'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { build } from 'esbuild'

const at = path => fileURLToPath(new URL(`../../${path}`, import.meta.url))

export async function run() {
  // In test/support: what it bundles looks for its files from there.
  const outfile = at(`test/support/.bench-${process.pid}.mjs`)
  try {
    await build({
      entryPoints: [at('test/bench/pages/wall.ts')],
      bundle: true,
      platform: 'node',
      format: 'esm',
      packages: 'external',
      outfile,
      logLevel: 'error',
    })
    const { runAll } = await import(pathToFileURL(outfile).href)
    await runAll()
  } finally {
    await rm(outfile, { force: true })
  }
}
