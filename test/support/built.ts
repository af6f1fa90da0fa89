import { copyFileSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { build } from 'esbuild'

/** The command line of these sources as one file that Node runs; `remove` takes it away again. */
export async function builtCommand(): Promise<{ path: string; remove(): void }> {
  const root = resolve(import.meta.dirname, '../..')
  mkdirSync(join(root, '.tmp'), { recursive: true })
  const folder = mkdtempSync(join(root, '.tmp', 'built-'))
  // As in the package: it reads its version two folders up.
  const path = join(folder, 'dist', 'cli', 'bin.mjs')
  copyFileSync(join(root, 'package.json'), join(folder, 'package.json'))
  await build({
    entryPoints: [join(root, 'src/cli/bin.ts')],
    outfile: path,
    bundle: true,
    platform: 'node',
    format: 'esm',
    packages: 'external',
    target: 'node20',
  })
  return { path, remove: () => rmSync(folder, { recursive: true, force: true }) }
}
