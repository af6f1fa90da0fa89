// The modules of a folder of the package as few: nobody imports one of them alone but what is named here, and as
// 400 files they make the package larger.
import { mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join as joined, relative, resolve } from 'node:path'
import { build } from 'esbuild'
import ts from 'typescript'
import { SLIM } from './slim.mjs'

const filesIn = (folder, ending) =>
  readdirSync(folder, { recursive: true })
    .filter(name => name.endsWith(ending))
    .map(name => joined(folder, name))

/** Files of the folder that another folder of the package, or a benchmark, imports. */
function takenOutside(folder) {
  const dist = dirname(folder)
  const others = filesIn(dist, '.js').filter(path => !path.startsWith(`${folder}/`) && dirname(path) !== dist)
  const taken = [...others, ...filesIn(resolve(dist, '../test/bench'), '.mjs')].flatMap(path =>
    ts
      .preProcessFile(readFileSync(path, 'utf8'))
      .importedFiles.map(({ fileName }) => resolve(dirname(path), fileName))
      .filter(to => to.startsWith(`${folder}/`)),
  )
  return [...new Set(taken)].sort()
}

/** Stands before the full path of what stays where it lies, until it is known where its importer comes to lie. */
const STAYS = 'stays:'

/** @param entries - names of the modules that somebody can import or run, in the folder */
export async function join(folder, entries) {
  // What asks where it lies stays where it lies.
  const fixed = new Set(filesIn(folder, '.js').filter(path => readFileSync(path, 'utf8').includes('import.meta.url')))
  // So does what lies beside the folder: other entries hold it too.
  const outside = {
    name: 'outside',
    setup: ({ onResolve }) =>
      onResolve({ filter: /^\./ }, ({ path, resolveDir, kind }) => {
        const to = resolve(resolveDir, path)
        const stays = !to.startsWith(`${folder}/`) || (fixed.has(to) && kind !== 'entry-point')
        return stays ? { path: `${STAYS}${to}`, external: true } : undefined
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
  for (const path of filesIn(folder, '.js')) if (!fixed.has(path)) rmSync(path)
  for (const { path, contents } of outputFiles) {
    mkdirSync(dirname(path), { recursive: true })
    writeFileSync(path, fromWhere(path, Buffer.from(contents).toString()))
  }
}

/** Imports of what stays, seen from a file. */
const fromWhere = (path, code) =>
  code.replaceAll(new RegExp(`"${STAYS}([^"]+)"`, 'g'), (_, to) => {
    const way = relative(dirname(path), to)
    return JSON.stringify(way.startsWith('.') ? way : `./${way}`)
  })
