import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import ts from 'typescript'
import { expect, test } from 'vitest'

const root = resolve(import.meta.dirname, '..')
const src = join(root, 'src')

/** Which folders and packages each folder may import; '' is the top of src. */
const MAY: Record<string, { folders: readonly string[]; packages: readonly RegExp[] }> = {
  text: { folders: [], packages: [/^yaml$/] },
  register: { folders: ['text'], packages: [/^(zod|yaml)(\/|$)/] },
  protocol: { folders: ['text', 'register'], packages: [/^zod(\/|$)/] },
  ledger: { folders: ['text', 'protocol'], packages: [/^zod\/mini$/] },
  budget: { folders: ['text'], packages: [] },
  house: { folders: ['text', 'register', 'protocol', 'ledger', 'budget'], packages: [] },
  emit: { folders: ['text', 'register', 'protocol', 'budget'], packages: [/^yaml$/, /^uqr$/] },
  link: { folders: ['text', 'protocol', 'ledger'], packages: [/^(mqtt|aedes|ws)(\/|$)/, /^node:/] },
  keeper: {
    folders: ['text', 'register', 'protocol', 'ledger', 'budget', 'house', 'link'],
    packages: [/^libsql$/, /^node:/, /^zod\/mini$/],
  },
  card: {
    folders: ['text', 'register', 'protocol', 'ledger', 'budget', 'house', 'link'],
    packages: [/^lit(\/|$)/, /^zod\/mini$/],
  },
  cli: {
    folders: ['text', 'register', 'protocol', 'ledger', 'budget', 'house', 'emit', 'link', 'keeper'],
    packages: [/^node:/, /^(commander|diff|munkres|mqtt-packet|yaml|zod\/mini)$/],
  },
  '': { folders: ['text', 'register', 'protocol', 'ledger', 'budget', 'house', 'emit'], packages: [] },
}

const files = (folder: string): string[] =>
  readdirSync(folder).flatMap(name => {
    const path = join(folder, name)
    return statSync(path).isDirectory() ? files(path) : path.endsWith('.ts') ? [path] : []
  })

/** Of the card the command line takes what needs no browser: its words and its colours. */
const WITHOUT_BROWSER = /^card\/(?:words\/|styles\/colours\.ts$)/

/** First folder below src, '' for files at its top. */
function folderOf(path: string): string {
  const [first = '', ...rest] = relative(src, path).split('/')
  return rest.length ? first : ''
}

const importsOf = (path: string): string[] =>
  ts.preProcessFile(readFileSync(path, 'utf8')).importedFiles.map(file => file.fileName)

test('every folder imports only what it may', () => {
  const wrong: string[] = []
  for (const path of files(src)) {
    const folder = folderOf(path)
    const may = MAY[folder]
    expect(may, `src/${folder} has no import rule`).toBeDefined()
    for (const name of importsOf(path)) {
      const target = name.startsWith('.') ? folderOf(resolve(dirname(path), name)) : undefined
      const allowed =
        target === undefined
          ? may!.packages.some(rule => rule.test(name))
          : target === folder ||
            may!.folders.includes(target) ||
            (folder === 'cli' && WITHOUT_BROWSER.test(relative(src, resolve(dirname(path), name))))
      if (!allowed) wrong.push(`${relative(root, path)} imports ${name}`)
    }
  }
  expect(wrong).toEqual([])
})

test('what the command line takes of the card needs no browser, nor does what that needs', () => {
  const reached = new Set(files(src).filter(path => WITHOUT_BROWSER.test(relative(src, path))))
  expect(reached.size).toBeGreaterThan(10)
  const packages: string[] = []
  for (const path of reached)
    for (const name of importsOf(path)) {
      if (name.startsWith('.')) reached.add(resolve(dirname(path), name))
      else packages.push(`${relative(root, path)} imports ${name}`)
    }
  expect(packages.filter(each => !/ imports zod\/mini$/.test(each))).toEqual([])
})

test('one file imports the SQLite binding, one folder the MQTT client', () => {
  const users = (name: RegExp) =>
    files(src)
      .filter(path => importsOf(path).some(one => name.test(one)))
      .map(path => relative(root, path))
  expect(users(/^libsql$/)).toHaveLength(1)
  expect(users(/^mqtt$/).every(path => path.startsWith('src/link/node/'))).toBe(true)
  expect(users(/^mqtt$/)).not.toEqual([])
})

test('in the card only the define module reaches for the link', () => {
  const wrong = files(join(src, 'card'))
    .filter(path => !/\/define\.ts$/.test(path))
    .flatMap(path => importsOf(path).map(name => [relative(root, path), name] as const))
    .filter(([, name]) => /\/link\//.test(name))
  expect(wrong).toEqual([])
})

/** Groups of files that import each other in a ring, types included: strongly connected components (Tarjan, 1972). */
function rings(imports: ReadonlyMap<string, readonly string[]>): string[][] {
  const number = new Map<string, number>()
  const lowest = new Map<string, number>()
  const open: string[] = []
  const found: string[][] = []
  const visit = (file: string): void => {
    number.set(file, number.size)
    lowest.set(file, number.get(file)!)
    open.push(file)
    for (const next of imports.get(file) ?? []) {
      if (!number.has(next)) visit(next)
      if (open.includes(next)) lowest.set(file, Math.min(lowest.get(file)!, lowest.get(next)!))
    }
    if (lowest.get(file) !== number.get(file)) return
    const ring = open.splice(open.indexOf(file))
    if (ring.length > 1 || imports.get(file)?.includes(file)) found.push(ring.sort())
  }
  for (const file of imports.keys()) if (!number.has(file)) visit(file)
  return found.sort()
}

test('a ring of imports is found', () => {
  const imports = { a: ['b'], b: ['c', 'd'], c: ['a'], d: ['e'], e: ['d'], f: ['a', 'f'], g: [] }
  expect(rings(new Map(Object.entries(imports)))).toEqual([['a', 'b', 'c'], ['d', 'e'], ['f']])
})

test('no files of src import each other in a ring, types included', () => {
  const imports = new Map(
    files(src).map(path => [
      relative(root, path),
      importsOf(path)
        .filter(name => name.startsWith('.'))
        .map(name => relative(root, resolve(dirname(path), name))),
    ]),
  )
  expect(rings(imports)).toEqual([])
})

test('topics of the tally are built in one place', () => {
  const made =
    /\}\/(?:register|keeper|alert|opening|plain|story|say|heard)\b|\$\{[^}]*tally\}\/|['`]\/(?:keeper|alert|opening|plain|story|say|heard)\b/i
  const wrong = files(src)
    .filter(path => !/src\/(?:protocol|register)\/topics\.ts$/.test(path))
    .flatMap(path =>
      readFileSync(path, 'utf8')
        .split('\n')
        .flatMap((line, index) =>
          made.test(line) && !/\bfrom '|^import\(/.test(line)
            ? `${relative(root, path)}:${index + 1} ${line.trim()}`
            : [],
        ),
    )
  expect(wrong).toEqual([])
})

test('no file of src is longer than 250 lines', () => {
  const long = files(src).filter(path => readFileSync(path, 'utf8').trimEnd().split('\n').length > 250)
  expect(long.map(path => relative(root, path))).toEqual([])
})

test('no test has a time limit below the common one, which holds on a machine with ten times as much to do', () => {
  const COMMON = 300_000
  const limit = /\btimeout: ([\d_]+)|^\s*\}, ([\d_]+)\)$/
  const wrong = files(join(root, 'test'))
    .filter(path => path.endsWith('.test.ts') && !path.endsWith('.browser.test.ts'))
    .flatMap(path =>
      readFileSync(path, 'utf8')
        .split('\n')
        .flatMap((line, index) => {
          const [, named, last] = limit.exec(line) ?? []
          const given = (named ?? last)?.replaceAll('_', '')
          return given !== undefined && Number(given) < COMMON ? `${relative(root, path)}:${index + 1}` : []
        }),
    )
  expect(wrong).toEqual([])
})

test('every benchmark imports files that the build makes', () => {
  const bench = join(root, 'test/bench')
  const named = readdirSync(bench)
    .filter(name => name.endsWith('.mjs'))
    .flatMap(name => importsOf(join(bench, name)).filter(each => each.startsWith('../../dist/')))
  expect(named.length).toBeGreaterThan(10)
  const sources = named.map(name => join(root, name.replace('../../dist', 'src').replace(/\.js$/, '.ts')))
  expect(sources.filter(path => !existsSync(path))).toEqual([])
})
