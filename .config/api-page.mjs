// What the package exports, as README.md lists it: a table a subject, made of the docstrings. `--write` puts it there.
import { readFileSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import ts from 'typescript'

const root = fileURLToPath(new URL('..', import.meta.url))
const BEGIN = '<!-- exports: made by `npm run api`, do not edit -->\n'
const END = '<!-- exports: end -->\n'

/** The entries whose names are listed, and where each begins. */
const ENTRIES = { sashtally: 'src/index.ts', 'sashtally/keeper': 'src/keeper/index.ts' }

/** @typedef {{ entry: string, subject: string, name: string, isType: boolean, text: string, examples: string[] }} Export */

/** Every export with its subject (the comment over its group), its docstring's text and its examples. @returns {Export[]} */
export function exported() {
  const options = {
    module: ts.ModuleKind.NodeNext,
    moduleResolution: ts.ModuleResolutionKind.NodeNext,
    target: ts.ScriptTarget.ES2022,
    allowImportingTsExtensions: true,
    noEmit: true,
    strict: true,
    skipLibCheck: true,
  }
  const program = ts.createProgram(
    Object.values(ENTRIES).map(path => root + path),
    options,
  )
  return Object.entries(ENTRIES).flatMap(([entry, path]) =>
    exportedBy(program.getSourceFile(root + path), program.getTypeChecker()).map(each => ({ entry, ...each })),
  )
}

function exportedBy(source, checker) {
  let subject = ''
  return source.statements.filter(ts.isExportDeclaration).flatMap(statement => {
    for (const { pos, end } of ts.getLeadingCommentRanges(source.text, statement.pos) ?? []) {
      const comment = source.text.slice(pos, end)
      if (comment.startsWith('// ') && !comment.includes('biome-ignore')) subject = comment.slice(3)
    }
    return statement.exportClause.elements.map(({ name }) => {
      const symbol = checker.getAliasedSymbol(checker.getSymbolAtLocation(name))
      const tags = symbol.getJsDocTags().filter(tag => tag.name === 'example')
      return {
        subject,
        name: name.text,
        isType: (symbol.flags & ts.SymbolFlags.Value) === 0,
        text: ts.displayPartsToString(symbol.getDocumentationComment(checker)),
        examples: tags.map(({ text }) => ts.displayPartsToString(text)),
      }
    })
  })
}

const firstSentence = text => /^[\s\S]*?\.(?=\s|$)/.exec(text)?.[0].replace(/\s+/g, ' ') ?? text

/** The list for README.md. */
export function apiPage(all = exported()) {
  return Object.keys(ENTRIES)
    .map(entry => `### \`${entry}\`\n\n${tablesOf(all.filter(each => each.entry === entry))}`)
    .join('\n\n')
}

function tablesOf(all) {
  const subjects = [...new Set(all.map(({ subject }) => subject))]
  return subjects
    .map(subject => {
      const own = all.filter(each => each.subject === subject)
      const values = own.filter(({ isType }) => !isType).map(({ name, text }) => `- \`${name}\`: ${firstSentence(text)}`)
      const types = own.filter(({ isType }) => isType).map(({ name }) => `\`${name}\``)
      return [`**${subject}**\n`, ...values, ...(types.length ? [`- Types: ${types.join(', ')}.`] : [])].join('\n')
    })
    .join('\n\n')
}

/** README.md with the list put between its two marks. */
export function withApiPage(readme, page = apiPage()) {
  const from = readme.indexOf(BEGIN)
  const to = readme.indexOf(END)
  if (from < 0 || to < from) throw new Error('README.md lacks the marks of the list of exports')
  return `${readme.slice(0, from + BEGIN.length)}\n${page}\n\n${readme.slice(to)}`
}

if (process.argv.includes('--write')) {
  const path = `${root}README.md`
  writeFileSync(path, withApiPage(readFileSync(path, 'utf8')))
}
