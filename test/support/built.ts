import { copyFileSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { build } from 'esbuild'

/** The command line of these sources as one file that Node runs, its thread beside it; `remove` takes both away again. */
export async function builtCommand(): Promise<{ path: string; remove(): void }> {
  const root = resolve(import.meta.dirname, '../..')
  mkdirSync(join(root, '.tmp'), { recursive: true })
  const folder = mkdtempSync(join(root, '.tmp', 'built-'))
  // As in the package: it reads its version two folders up.
  const outdir = join(folder, 'dist', 'cli')
  copyFileSync(join(root, 'package.json'), join(folder, 'package.json'))
  await build({
    entryPoints: ['cli/bin', 'keeper/forecast/forecast-worker'].map(name => join(root, 'src', `${name}.ts`)),
    outdir,
    entryNames: '[name]',
    bundle: true,
    platform: 'node',
    format: 'esm',
    packages: 'external',
    target: 'node20',
  })
  return { path: join(outdir, 'bin.js'), remove: () => rmSync(folder, { recursive: true, force: true }) }
}
