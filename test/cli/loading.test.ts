import { readFileSync } from 'node:fs'
import { dirname, join, relative, resolve } from 'node:path'
import ts from 'typescript'
import { describe, expect, test } from 'vitest'
import { COMMANDS } from '../../src/cli/commands.ts'

const src = resolve(import.meta.dirname, '../../src')

/** What a module loads as soon as it is loaded itself; types and `import()` load nothing. */
function importsOf(path: string): string[] {
  const source = ts.createSourceFile(path, readFileSync(path, 'utf8'), ts.ScriptTarget.Latest)
  return source.statements.flatMap(statement => {
    const isImport = ts.isImportDeclaration(statement) && !statement.importClause?.isTypeOnly
    const isExport = ts.isExportDeclaration(statement) && !statement.isTypeOnly && statement.moduleSpecifier
    const from = isImport || isExport ? statement.moduleSpecifier : undefined
    return from && ts.isStringLiteral(from) ? [from.text] : []
  })
}

/** Every module that is loaded with one, by its path below src or its package's name. */
function loadedWith(entry: string): Set<string> {
  const loaded = new Set<string>()
  const load = (path: string): void => {
    const name = relative(src, path)
    if (loaded.has(name)) return
    loaded.add(name)
    for (const from of importsOf(path)) {
      if (from.startsWith('.')) load(resolve(dirname(path), from))
      else if (!from.startsWith('node:')) loaded.add(from)
    }
  }
  load(join(src, entry))
  return loaded
}
const packagesIn = (loaded: ReadonlySet<string>): string[] => [...loaded].filter(name => !name.endsWith('.ts')).sort()

describe('what is loaded', () => {
  const always = loadedWith('cli/bin.ts')
  test('for --version and --help: the table of commands, and of packages the parser alone', () => {
    expect(packagesIn(always)).toEqual(['commander'])
    expect(always).toContain('cli/commands.ts')
    expect(always.size).toBeLessThanOrEqual(45)
  })

  const runs = /import\('\.\/(.*?)'\)/g
  const modules = [...readFileSync(join(src, 'cli/commands.ts'), 'utf8').matchAll(runs)].map(
    ([, path]) => `cli/${path}`,
  )
  test('the code of a command only when it runs', () => {
    expect(modules).toHaveLength(COMMANDS.length)
    for (const path of modules) expect(always).not.toContain(path)
  })
  test.each([
    ['cli/register/check.ts', ['yaml', 'zod/mini']],
    ['cli/register/emit-labels.ts', ['uqr', 'yaml', 'zod/mini']],
    ['cli/cells/suit.ts', ['yaml', 'zod/mini']],
    ['cli/cells/budget.ts', ['yaml', 'zod/mini']],
  ])('%s reaches for no broker and no database', (path, needs) => {
    const packages = packagesIn(loadedWith(path))
    expect(packages).toEqual(expect.arrayContaining(needs))
    for (const name of ['mqtt', 'aedes', 'ws', 'libsql', 'mqtt-packet']) expect(packages).not.toContain(name)
  })
})
