import {
  type Document,
  isAlias,
  isCollection,
  isMap,
  isScalar,
  isSeq,
  type Node,
  visit,
  type YAMLMap,
  type YAMLSeq,
} from 'yaml'
import { pointerParts } from '../../text/json-pointer.ts'
import { nearest } from '../../text/nearest.ts'
import type { Problem } from '../../text/problem.ts'
import { shown } from '../../text/problems.ts'
import type { HubFile } from './hub-file.ts'

export type CollectionKind = 'list' | 'map'

/** Where entries go: the collection at the place, and what an insertion must know of it. */
export interface EntryPlace {
  /** Null for the root of a file without any value. */
  readonly node: Node | null
  /** The collection, when it holds entries already. */
  readonly entries: YAMLSeq | YAMLMap | undefined
  /** Spaces before each entry. */
  readonly indent: number
  /** Offsets in the base of the lone `[]` or `{}` that gives way; equal when nothing does. */
  readonly gives: readonly [number, number]
  /** Offset in the base after which the next line may begin the block. */
  readonly after: number
}

/** Finds the collection that a JSON Pointer leads to, or says why nothing can be placed there. */
export function findPlace(
  hub: HubFile,
  at: string,
  as: CollectionKind,
): { place?: EntryPlace; problems: readonly Problem[] } {
  const refuse = (code: string, node: Node | null, message: string) => {
    const [from, to] = node?.range ?? [0, 1]
    return { problems: [hub.problem(code, from, to, at, message)] }
  }
  const parts = pointerParts(at) ?? []
  let node: Node | null = hub.root
  let owner: YAMLSeq | YAMLMap | undefined
  for (const [index, part] of parts.entries()) {
    const here = parts
      .slice(0, index + 1)
      .map(p => `/${p}`)
      .join('')
    if (isAlias(node)) return refuse('alias', node, aliasSentence(node.source))
    if (!isMap(node) && !isSeq(node))
      return refuse(
        'no-place',
        node,
        `The place ${at} is not in this file: nothing stands under ${here}; write the key with an empty value where the entries belong`,
      )
    owner = node
    if (isSeq(node)) {
      const item: unknown = /^(?:0|[1-9]\d*)$/.test(part) ? node.items[Number(part)] : undefined
      if (item === undefined)
        return refuse('no-place', node, `The place ${at} is not in this file: the list here has no item ${shown(part)}`)
      node = item as Node
    } else {
      const pair: YAMLMap['items'][number] | undefined = node.items.find(
        ({ key }) => isScalar(key) && String(key.value) === part,
      )
      if (!pair) {
        const near = nearest(
          part,
          node.items.flatMap(({ key }) => (isScalar(key) ? [String(key.value)] : [])),
        )
        return refuse(
          'no-place',
          node,
          `The place ${at} is not in this file: no key ${shown(part)} here${near ? `, the nearest is ${shown(near)}` : ''}; write the key with an empty value where the entries belong`,
        )
      }
      node = (pair.value as Node | null) ?? null
    }
  }
  if (isAlias(node)) return refuse('alias', node, aliasSentence(node.source))
  const reused = repeatedAnchor(hub.document, parts)
  if (reused)
    return refuse(
      'anchor',
      reused,
      `What stands at the place ${at} is repeated elsewhere by *${reused.source}: new entries would turn up there too; write one of the two out`,
    )

  const token = node?.srcToken
  const wanted = as === 'list' ? isSeq(node) : isMap(node)
  const emptyFlow = isCollection(node) && node.flow === true && node.items.length === 0
  if (isCollection(node) && !wanted) {
    return refuse(
      'shape',
      node,
      `The profile's entries make a ${as}, but a ${isSeq(node) ? 'list' : 'map'} stands at the place ${at}`,
    )
  }
  if (isCollection(node) && !emptyFlow) {
    if (token?.type !== 'block-seq' && token?.type !== 'block-map') {
      return refuse(
        'flow',
        node,
        `A collection in brackets stands at the place ${at}, and other entries share its lines: write it with one entry a line, without brackets`,
      )
    }
    return {
      problems: [],
      place: { node, entries: node as YAMLSeq | YAMLMap, indent: token.indent, gives: [0, 0], after: lastInk(node) },
    }
  }
  if (!emptyFlow && !isEmptyValue(node)) {
    return refuse(
      'not-empty',
      node,
      `A single value stands at the place ${at}; entries go into a ${as}, [], {} or an empty value`,
    )
  }
  const ownerToken = owner?.srcToken
  if (owner && ownerToken?.type !== 'block-map' && ownerToken?.type !== 'block-seq') {
    return refuse(
      'flow',
      owner,
      `The place ${at} stands inside brackets: write what holds it with one key a line, without brackets`,
    )
  }
  const gives: readonly [number, number] = emptyFlow && node?.range ? [node.range[0], node.range[1]] : [0, 0]
  if (emptyFlow && hub.base.slice(...gives).includes('#')) {
    return refuse(
      'flow',
      node,
      `A comment stands inside the brackets at the place ${at}: move it out, so that they can give way`,
    )
  }
  const after = node?.range?.[1] ?? hub.base.length
  const indent = ownerToken && 'indent' in ownerToken ? ownerToken.indent + stepOf(hub.document) : 0
  return { problems: [], place: { node, entries: undefined, indent, gives, after } }
}

const aliasSentence = (name: string): string =>
  `The place is *${name}, which only repeats what stands at &${name}: write the entries' own list or map out here, or give the place of &${name}`

// With a tag of the person's own, the empty value is empty text.
const isEmptyValue = (node: Node | null): boolean =>
  node === null ||
  (isScalar(node) &&
    (node.value === null || node.value === '') &&
    (node.source ?? '') === '' &&
    node.type !== 'QUOTE_DOUBLE' &&
    node.type !== 'QUOTE_SINGLE')

/** An alias of the place, of what holds it, or of its anchors. */
function repeatedAnchor(document: Document | undefined, parts: readonly string[]) {
  const anchors = new Set<string>()
  let node: unknown = document?.contents
  for (const part of [...parts, undefined]) {
    if (isCollection(node) || isScalar(node)) if (node.anchor) anchors.add(node.anchor)
    if (part === undefined) break
    node = isSeq(node)
      ? node.items[Number(part)]
      : isMap(node)
        ? node.items.find(({ key }) => isScalar(key) && String(key.value) === part)?.value
        : undefined
  }
  let found: (Node & { source: string }) | undefined
  if (document && anchors.size) {
    visit(document, {
      Alias(_key, alias) {
        if (!anchors.has(alias.source)) return undefined
        found = alias
        return visit.BREAK
      },
    })
  }
  return found
}

/** End of the last thing in a node that is neither space nor comment. */
export function lastInk(node: Node | null): number {
  if (!isCollection(node) || node.flow || node.items.length === 0) return node?.range?.[1] ?? 0
  const last: unknown = node.items.at(-1)
  if (isSeq(node)) return lastInk(last as Node)
  const { key, value } = last as { key: Node | null; value: Node | null }
  return Math.max(lastInk(key), lastInk(value))
}

/** Spaces by which this file indents a block under its key. */
function stepOf(document: Document | undefined): number {
  let step = 2
  if (document) {
    visit(document, {
      Pair(_key, pair, ancestors) {
        const outer = (ancestors.at(-1) as YAMLMap | undefined)?.srcToken
        const inner = isMap(pair.value) ? pair.value.srcToken : undefined
        if (outer?.type !== 'block-map' || inner?.type !== 'block-map' || inner.indent <= outer.indent) return undefined
        step = inner.indent - outer.indent
        return visit.BREAK
      },
    })
  }
  return step
}
