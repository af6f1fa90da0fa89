// Lets a benchmark import TypeScript of the tests: node's module hooks, with the compiler that builds the package.
import { readFile } from 'node:fs/promises'
import ts from 'typescript'

const compilerOptions = { module: ts.ModuleKind.ESNext, target: ts.ScriptTarget.ES2022, verbatimModuleSyntax: true }

export async function load(url, context, next) {
  if (!url.endsWith('.ts')) return next(url, context)
  const text = await readFile(new URL(url), 'utf8')
  return { format: 'module', source: ts.transpileModule(text, { compilerOptions }).outputText, shortCircuit: true }
}
