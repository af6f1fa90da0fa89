import { renameSync } from 'node:fs'
import { resolve } from 'node:path'
import { build } from 'esbuild'
import { WORKER_FILE } from './worker-url.ts'

/** The thread that forecasts, from these sources; several runs may make it at once. */
export default async function makeWorker(): Promise<void> {
  const outfile = `${WORKER_FILE}.${process.pid}`
  const source = resolve(import.meta.dirname, '../../src/keeper/forecast/forecast-worker.ts')
  await build({ entryPoints: [source], outfile, bundle: true, platform: 'node', format: 'esm', target: 'node20' })
  renameSync(outfile, WORKER_FILE)
}
