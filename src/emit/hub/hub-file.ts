import { Composer, type Document, isCollection, isMap, isScalar, isSeq, type Node, Parser } from 'yaml'
import { pointerOf } from '../../text/json-pointer.ts'
import type { Problem } from '../../text/problem.ts'
import { Lines, shown, withoutMark } from '../../text/problems.ts'
import { findBlock } from './markers.ts'

/** A hub's file as it stands, and as it would be without the block between our markers. */
export interface HubFile {
  /** Without a byte-order mark; every offset counts in this or in `base`. */
  readonly text: string
  readonly byteOrderMark: string
  /** Whole lines, markers included. */
  readonly block?: { readonly from: number; readonly to: number }
  readonly base: string
  /** Undefined when the file holds nothing but comments. */
  readonly document: Document | undefined
  readonly root: Node | null
  /** A problem at an offset of `base`, in lines of the file as it stands. */
  problem(code: string, from: number, to: number, path: string, message: string): Problem
  /** Offset in `text` of an offset of `base`. */
  inText(offset: number): number
  /** Line in the file of an offset of `base`, from 1. */
  line(offset: number): number
}

/** Reads a hub's file; what makes it unsafe to touch comes back as problems, all at once. */
export function readHubFile(
  whole: string,
  tally: string,
  what = 'hub file',
): { hub?: HubFile; problems: readonly Problem[] } {
  const text = withoutMark(whole)
  const lines = new Lines(text)
  const problems: Problem[] = []
  const at = (code: string, from: number, to: number, path: string, message: string): Problem => ({
    code,
    severity: 'error',
    ...lines.at(from),
    length: Math.max(1, Math.min(to, lines.endOfLine(from)) - from),
    path,
    message,
  })
  if (text.includes('\0')) {
    const nul = text.indexOf('\0')
    return {
      problems: [
        at(
          'not-text',
          nul,
          nul + 1,
          '',
          `The ${what} holds the character U+0000: check that it is the right file, saved as UTF-8`,
        ),
      ],
    }
  }
  const block = findBlock(text, tally, (code, from, to, message) => problems.push(at(code, from, to, '', message)))
  if (problems.length) return { problems }
  const base = block ? text.slice(0, block.from - orphanedLineEnd(text, block)) + text.slice(block.to) : text
  const inText = (offset: number): number => (block && offset >= block.from ? offset + block.to - block.from : offset)
  const problem = (code: string, from: number, to: number, path: string, message: string): Problem =>
    at(code, inText(from), Math.max(inText(from), inText(to)), path, message)

  const documents = parseAll(base)
  if (documents === undefined) {
    return {
      problems: [
        at('too-deep', 0, 1, '', `The ${what} nests too deep to be read: look for brackets that are never closed`),
      ],
    }
  }
  for (const error of documents.flatMap(document => document.errors)) {
    const tab = error.code === 'TAB_AS_INDENT'
    const says = tab
      ? 'YAML indents with spaces only; a tab stands here: replace it with spaces'
      : `The ${what} is not YAML here: ${error.message.split('\n', 1)[0]?.replace(/[.:]$/, '')}`
    problems.push(problem(tab ? 'tab' : 'yaml', error.pos[0], error.pos[1], '', says))
  }
  if (documents[1]) {
    const from = documents[1].range[0]
    problems.push(
      problem(
        'several-documents',
        from,
        from + 3,
        '',
        `The ${what} holds several YAML documents; which one is meant cannot be told: keep a file with one`,
      ),
    )
  }
  const document = documents[0]
  if (document) problems.push(...twiceKeys(document, problem))
  if (problems.length) return { problems: problems.sort((a, b) => a.line - b.line) }
  return {
    problems,
    hub: {
      text,
      byteOrderMark: whole.slice(0, whole.length - text.length),
      ...(block && { block }),
      base,
      document,
      root: (document?.contents as Node | null | undefined) ?? null,
      problem,
      inText,
      line: offset => lines.at(inText(offset)).line,
    },
  }
}

/** Every document in a text; undefined when it nests too deep. Keys that stand twice are not looked for. */
export function parseAll(text: string, keepSourceTokens = true): Document.Parsed[] | undefined {
  try {
    const composer = new Composer({
      keepSourceTokens,
      uniqueKeys: false,
      logLevel: 'silent',
      prettyErrors: false,
    })
    return [...composer.compose(new Parser().parse(text))] as Document.Parsed[]
  } catch (error) {
    if (error instanceof RangeError) return undefined
    throw error
  }
}

// A file whose last line had no line end was given one before the block: it goes with the block.
function orphanedLineEnd(text: string, block: { from: number; to: number }): number {
  if (block.to < text.length || text.endsWith('\n') || block.from === 0) return 0
  return text[block.from - 2] === '\r' ? 2 : 1
}

/** Walked here rather than with the library's visitor, which takes as long as reading the file. */
function twiceKeys(document: Document, problem: HubFile['problem']): Problem[] {
  const found: Problem[] = []
  const path: PropertyKey[] = []
  const inside = (node: unknown, part: PropertyKey): void => {
    if (!isCollection(node)) return
    path.push(part)
    walk(node)
    path.pop()
  }
  function walk(node: unknown): void {
    if (isSeq(node)) for (const [index, item] of node.items.entries()) inside(item, index)
    if (!isMap(node)) return
    const seen = new Set<string>()
    for (const { key, value } of node.items) {
      const name = isScalar(key) ? String(key.value) : ''
      if (isScalar(key) && key.range) {
        const typed = `${typeof key.value}:${name}`
        if (seen.has(typed)) {
          const says = `A key stands once in a map; ${shown(name)} stands here again, and which of the two counts cannot be told: take one out`
          found.push(problem('duplicate-key', key.range[0], key.range[1], pointerOf([...path, name]), says))
        }
        seen.add(typed)
      } else inside(key, name)
      inside(value, name)
    }
  }
  walk(document.contents)
  return found
}

/** JSON Pointer to a node under its ancestors. */
export function pathOf(ancestors: readonly unknown[], last: unknown): string {
  const parts: PropertyKey[] = []
  const chain = [...ancestors, last]
  for (const [index, node] of chain.entries()) {
    if (isSeq(node) && chain[index + 1]) parts.push(node.items.indexOf(chain[index + 1]))
    if (isMap(node)) {
      const pair = node.items.find(item => item === chain[index + 1])
      if (pair) parts.push(String((pair.key as { value?: unknown } | null)?.value))
    }
  }
  return pointerOf(parts)
}
