// The card's own modules as one: nobody imports one of them alone but what is named here, and as 150 files they make the
// package larger.
import { mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import { build } from 'esbuild'
import ts from 'typescript'
import { SLIM } from './slim.mjs'

/** Files of the card that another folder of the package imports. */
function takenOutside(card) {
  const dist = dirname(card)
  const files = readdirSync(dist, { recursive: true }).map(name => join(dist, name))
  const outside = files.filter(path => path.endsWith('.js') && !path.startsWith(`${card}/`) && dirname(path) !== dist)
  const taken = outside.flatMap(path =>
    ts
      .preProcessFile(readFileSync(path, 'utf8'))
      .importedFiles.map(({ fileName }) => resolve(dirname(path), fileName))
      .filter(to => to.startsWith(`${card}/`)),
  )
  return [...new Set(taken)].sort()
}

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
    entryPoints: [...entries, ...takenOutside(card)],
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
