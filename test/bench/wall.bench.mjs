// The wall in Chromium on mosquitto, against references in the same run.
import { mkdtemp, rm } from 'node:fs/promises'
import { join } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { build } from 'esbuild'

const root = fileURLToPath(new URL('../..', import.meta.url))

export async function run() {
  // Inside test/, so that what it bundles finds its files where they are.
  const folder = await mkdtemp(join(root, 'test', 'support', '.bench-'))
  try {
    const outfile = join(folder, 'wall.mjs')
    const entry = join(root, 'test/bench/pages/wall.ts')
    const supports = {
      name: 'urls',
      setup: at =>
        at.onLoad({ filter: /test\/support\/wall\.ts$/ }, async ({ path }) => ({
          contents: (await import('node:fs'))
            .readFileSync(path, 'utf8')
            .replace(
              /new URL\('[^']*sash-tally\.js', import\.meta\.url\)/,
              JSON.stringify(join(root, 'dist/sash-tally.js')),
            ),
          loader: 'ts',
        })),
    }
    await build({
      entryPoints: [entry],
      bundle: true,
      platform: 'node',
      format: 'esm',
      packages: 'external',
      outfile,
      plugins: [supports],
      logLevel: 'error',
    })
    const { runAll } = await import(pathToFileURL(outfile).href)
    await runAll()
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}
