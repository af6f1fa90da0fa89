// The card's own modules as one: nobody can import one of them alone, and as 150 files they make the package larger.
import { mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import { build } from 'esbuild'
import { SLIM } from './slim.mjs'

/** @param entries - the modules that somebody can import */
export async function joinCard(card, entries) {
  // What lies beside the card's folder stays a file of its own: the other entries hold it too.
  const outside = {
    name: 'outside',
    setup: ({ onResolve }) =>
      onResolve({ filter: /^\./ }, ({ path, resolveDir }) => {
        const to = relative(card, resolve(resolveDir, path))
        return to.startsWith('..') ? { path: to, external: true } : undefined
      }),
  }
  const { outputFiles } = await build({
    ...SLIM,
    entryPoints: entries,
    outdir: card,
    outbase: card,
    chunkNames: 'part-[hash]',
    bundle: true,
    splitting: true,
    format: 'esm',
    target: 'es2022',
    packages: 'external',
    plugins: [outside],
    write: false,
  })
  for (const name of readdirSync(card, { recursive: true })) if (name.endsWith('.js')) rmSync(join(card, name))
  for (const { path, contents } of outputFiles) {
    mkdirSync(dirname(path), { recursive: true })
    writeFileSync(path, contents)
  }
}
