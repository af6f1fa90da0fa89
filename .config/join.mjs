// The modules of the card and of the command line as few: nobody imports one of them alone but what is named here, and as
// 400 files they make the package larger.
import { mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join as joined, relative, resolve } from 'node:path'
import { build } from 'esbuild'
import ts from 'typescript'
import { SLIM } from './slim.mjs'

const scriptsIn = folder =>
  readdirSync(folder, { recursive: true })
    .filter(name => name.endsWith('.js'))
    .map(name => joined(folder, name))

/** Files of the folder that another folder of the package imports. */
function takenOutside(folder) {
  const dist = dirname(folder)
  const taken = scriptsIn(dist)
    .filter(path => !path.startsWith(`${folder}/`) && dirname(path) !== dist)
    .flatMap(path =>
      ts
        .preProcessFile(readFileSync(path, 'utf8'))
        .importedFiles.map(({ fileName }) => resolve(dirname(path), fileName))
        .filter(to => to.startsWith(`${folder}/`)),
    )
  return [...new Set(taken)].sort()
}

/** @param entries - names of the modules that somebody can import or run, in the folder */
export async function join(folder, entries) {
  // What asks where it lies stays where it lies.
  const fixed = new Set(scriptsIn(folder).filter(path => readFileSync(path, 'utf8').includes('import.meta.url')))
  // So does what lies beside the folder: other entries hold it too.
  const outside = {
    name: 'outside',
    setup: ({ onResolve }) =>
      onResolve({ filter: /^\./ }, ({ path, resolveDir, kind }) => {
        const full = resolve(resolveDir, path)
        const to = relative(folder, full)
        if (to.startsWith('..')) return { path: to, external: true }
        return fixed.has(full) && kind !== 'entry-point' ? { path: `./${to}`, external: true } : undefined
      }),
  }
  const { outputFiles } = await build({
    ...SLIM,
    entryPoints: [...entries.map(name => joined(folder, `${name}.js`)), ...takenOutside(folder)],
    outdir: folder,
    outbase: folder,
    chunkNames: 'part-[hash]',
    bundle: true,
    splitting: true,
    format: 'esm',
    target: 'es2022',
    packages: 'external',
    plugins: [outside],
    write: false,
  })
  for (const path of scriptsIn(folder)) if (!fixed.has(path)) rmSync(path)
  for (const { path, contents } of outputFiles) {
    mkdirSync(dirname(path), { recursive: true })
    writeFileSync(path, contents)
  }
}
