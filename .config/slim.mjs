// What is published holds no comment, no indentation and no name that nobody can import (they stand in the sources; a
// stack trace says file, line and column, of lines that are short enough for it), and of the types only those that
// somebody can import.
import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import { transformSync } from 'esbuild'
import ts from 'typescript'

const filesIn = folder =>
  readdirSync(folder, { recursive: true })
    .map(name => join(folder, name))
    .sort()

const typesFrom = path =>
  ts
    .preProcessFile(readFileSync(path, 'utf8'))
    .importedFiles.filter(({ fileName }) => fileName.startsWith('.'))
    .map(({ fileName }) => resolve(dirname(path), fileName.replace(/\.(?:ts|js)$/, '.d.ts')))

/** Every file of types that an entry leads to, and over how many others. */
function reached(entries) {
  const found = new Map()
  for (let [steps, paths] = [0, entries]; paths.length > 0; steps++) {
    const here = [...new Set(paths)].filter(path => !found.has(path))
    for (const path of here) found.set(path, steps)
    paths = here.flatMap(typesFrom)
  }
  return found
}

/** What an entry names lies one step away; what that is made of is described in the sources. */
const DESCRIBED_STEPS = 1

function withoutComments(path) {
  const types = ts.createSourceFile(path, readFileSync(path, 'utf8'), ts.ScriptTarget.Latest)
  return ts.createPrinter({ removeComments: true }).printFile(types)
}

/** How esbuild writes what is published. */
export const SLIM = { legalComments: 'none', minify: true, lineLimit: 1_000 }

/** @param exports - of package.json; its `types` are the entries */
export function slim(dist, exports) {
  const types = Object.values(exports).flatMap(({ types }) => (types ? [resolve(dist, '..', types)] : []))
  const wanted = reached(types.filter(path => existsSync(path)))
  const card = join(dist, 'sash-tally.js')
  const sourceOf = path => join(dist, '../src', relative(dist, path).replace(/\.(?:d\.ts|js)$/, '.ts'))
  for (const path of filesIn(dist)) {
    // The compiler leaves what it made of a file that was moved or removed since.
    const isStale = /\.(?:d\.ts|js)$/.test(path) && path !== card && !existsSync(sourceOf(path))
    if (isStale || (path.endsWith('.d.ts') && !wanted.has(path))) rmSync(path)
    else if (wanted.get(path) > DESCRIBED_STEPS) writeFileSync(path, withoutComments(path))
    // The one-file card is built and committed by itself; the command line's first line is the system's.
    else if (path.endsWith('.js') && path !== card) {
      const code = readFileSync(path, 'utf8')
      const [, first = ''] = /^(#!.*\n)?/.exec(code)
      writeFileSync(path, first + transformSync(code.slice(first.length), SLIM).code)
    }
  }
}
