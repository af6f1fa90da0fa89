import { type Document, isAlias, isCollection, isMap, isPair, isScalar, isSeq, type Node } from 'yaml'
import type { Problem } from '../../text/problem.ts'
import { type HubFile, parseAll } from './hub-file.ts'
import { markersOf } from './markers.ts'
import { findPlace, type Place, type Shape } from './place.ts'
import { isList, isValueMap, type Scalar, type Value } from './value.ts'
import { yamlLines } from './write.ts'

/** One generated entry; `key` only in a map. */
export interface Entry {
  readonly mark: string
  readonly key?: Scalar
  readonly value: Value
}

export interface Spliced {
  /** The whole new file, byte-order mark included; absent when it was refused. */
  readonly text?: string
  readonly problems: readonly Problem[]
  /** True when the block stood at another place and was taken there. */
  readonly moved?: boolean
}

/** Lines of entries without indent: list items, or keys with their blocks. */
export const entryLines = (entries: readonly Entry[], as: Shape, indent = ''): string[] =>
  entries.flatMap(({ key, value }) =>
    as === 'list' ? yamlLines([value], indent) : yamlLines(new Map([[key ?? null, value]]), indent, indent, true),
  )

/** The block with its markers, each line indented. */
export function blockLines(entries: readonly Entry[], as: Shape, tally: string, indent = ''): string[] {
  const { begin, end } = markersOf(tally)
  const held = entries.length ? entryLines(entries, as, indent) : [`${indent}${as === 'list' ? '[]' : '{}'}`]
  return [indent + begin, ...held, indent + end]
}

/**
 * Puts the entries between our two markers at a place of a hub's file; every byte outside stays as it is,
 * but for a lone `[]` or `{}` at the place. Without entries the block goes, where other entries stay.
 * The new text is parsed and compared with the old document plus the entries before it is handed out.
 */
export function splice(hub: HubFile, at: string, as: Shape, entries: readonly Entry[], tally: string): Spliced {
  const { place, problems } = findPlace(hub, at, as)
  if (!place) return { problems }
  const taken = keysTaken(hub, place, at, entries)
  if (taken.length) return { problems: taken }
  const whole = (text: string, more: Partial<Spliced> = {}): Spliced => ({
    text: hub.byteOrderMark + text,
    problems,
    ...more,
  })
  if (entries.length === 0 && (!hub.block || place.entries)) return whole(hub.base)

  if (hub.block) {
    const text = replaced(hub, hub.block, place, as, entries, tally)
    if (holds(text, hub, place, entries, as, hub.block.from)) return whole(text)
  }
  const inserted = insert(hub.base, place, as, entries, tally)
  // A new block stands after every entry, an empty one at the very end of the file too.
  if (holds(inserted, hub, place, entries, as, Number.POSITIVE_INFINITY))
    return whole(inserted, { moved: hub.block !== undefined })
  const [from, to] = place.node?.range ?? [0, 1]
  return {
    problems: [
      hub.problem(
        'unsafe',
        from,
        to,
        at,
        `Entries put at the place ${at} would change something else in this file, so nothing is written: end the last entry there with a whole line, and look for unusual indents beside it`,
      ),
    ],
  }
}

/** Keys that stand outside the block already; 7 and "7" are one, since not every reader tells them apart. */
function keysTaken(hub: HubFile, place: Place, at: string, entries: readonly Entry[]): Problem[] {
  if (!isMap(place.entries)) return []
  const wanted = new Map(entries.map(({ key, mark }) => [String(key), mark]))
  return place.entries.items.flatMap(({ key }) => {
    const mark = isScalar(key) ? wanted.get(String(key.value)) : undefined
    if (mark === undefined || !isScalar(key)) return []
    const [from, to] = key.range ?? [0, 1]
    const says = `The key ${String(key.value)} stands here already, and the entry for ${mark} would have it too: leave one of the two out`
    return [hub.problem('key-taken', from, to, at, says)]
  })
}

function replaced(
  hub: HubFile,
  block: { from: number; to: number },
  place: Place,
  as: Shape,
  entries: readonly Entry[],
  tally: string,
): string {
  const old = hub.text.slice(block.from, block.to)
  const eol = /\r?\n/.exec(old)?.[0] ?? '\n'
  const indent = place.entries ? place.indent : (/^ */.exec(old)?.[0].length ?? 0)
  const lines = blockLines(entries, as, tally, ' '.repeat(indent)).join(eol)
  return hub.text.slice(0, block.from) + lines + (old.endsWith('\n') ? eol : '') + hub.text.slice(block.to)
}

function insert(base: string, place: Place, as: Shape, entries: readonly Entry[], tally: string): string {
  const { gives, indent } = place
  const cut = gives[1] - gives[0]
  const text = base.slice(0, gives[0]) + base.slice(gives[1])
  let at = lineAfter(text, place.after - cut)
  // A comment indented deeper than the entries speaks of the last one.
  for (let line = text.slice(at, lineAfter(text, at + 1)); place.entries && deeperComment(line, indent); ) {
    at += line.length
    line = text.slice(at, lineAfter(text, at + 1))
  }
  const eol = /\r?\n$/.exec(text.slice(0, at))?.[0] ?? /\r?\n/.exec(text)?.[0] ?? '\n'
  const lines = blockLines(entries, as, tally, ' '.repeat(indent)).join(eol)
  const open = at > 0 && text[at - 1] !== '\n'
  return text.slice(0, at) + (open ? eol + lines : lines + eol) + text.slice(at)
}

const lineAfter = (text: string, offset: number): number => {
  if (offset > 0 && offset <= text.length && text[offset - 1] === '\n') return offset
  const feed = text.indexOf('\n', offset)
  return feed < 0 ? text.length : feed + 1
}

const deeperComment = (line: string, indent: number): boolean => {
  const spaces = /^( *)#/.exec(line)?.[1]
  return spaces !== undefined && spaces.length > indent
}

/** True when `text` is the old document plus the entries at the place, in one run, and nothing else. */
function holds(text: string, hub: HubFile, place: Place, entries: readonly Entry[], as: Shape, at: number): boolean {
  const documents = parseAll(text, false)
  if (documents?.length !== 1 || documents[0]!.errors.length) return false
  const old = place.entries
  const before = old ? old.items.filter(item => startOf(item) < at).length : 0

  function plusEntries(now: unknown): boolean {
    if (!(as === 'list' ? isSeq(now) : isMap(now)) || !isCollection(now)) return false
    const was = isCollection(place.node) || isScalar(place.node) ? place.node : undefined
    if (now.anchor !== was?.anchor || now.tag !== (isCollection(was) ? was.tag : now.tag)) return false
    const kept: unknown[] = old ? [...old.items] : []
    if (now.items.length !== kept.length + entries.length) return false
    return now.items.every((item: unknown, index: number) => {
      const mine = entries[index - before]
      if (index >= before && mine) return isEntry(item, mine)
      return same(kept[index < before ? index : index - entries.length], item)
    })
  }
  function same(one: unknown, other: unknown): boolean {
    if (one !== null && one !== undefined && one === place.node) return plusEntries(other)
    if (isPair(one)) return isPair(other) && same(one.key, other.key) && same(one.value, other.value)
    if (isAlias(one)) return isAlias(other) && one.source === other.source
    if (isScalar(one))
      return (
        isScalar(other) && one.anchor === other.anchor && one.tag === other.tag && sameScalar(one.value, other.value)
      )
    if (!isCollection(one)) return one === other
    if (!isCollection(other) || isMap(one) !== isMap(other) || one.anchor !== other.anchor || one.tag !== other.tag)
      return false
    return (
      one.items.length === other.items.length &&
      one.items.every((item: unknown, index: number) => same(item, other.items[index]))
    )
  }
  const contents = (documents[0] as Document).contents
  return hub.root === null || hub.root === place.node ? plusEntries(contents) : same(hub.root, contents)
}

const startOf = (item: unknown): number => ((isPair(item) ? item.key : item) as Node | null)?.range?.[0] ?? 0

const sameScalar = (one: unknown, other: unknown): boolean =>
  Object.is(one, other) ||
  (typeof one === 'object' && typeof other === 'object' && String(one) === String(other)) ||
  (typeof one === 'symbol' && typeof other === 'symbol' && one.description === other.description)

function isEntry(item: unknown, { key, value }: Entry): boolean {
  if (isPair(item)) return isScalar(item.key) && item.key.value === key && isValue(item.value, value)
  return isValue(item, value)
}

function isValue(node: unknown, value: Value): boolean {
  if (isScalar(node)) return Object.is(node.value, value)
  if (isSeq(node))
    return (
      isList(value) &&
      node.items.length === value.length &&
      node.items.every((item, index) => isValue(item, value[index]!))
    )
  if (!isMap(node) || !isValueMap(value) || node.items.length !== value.size) return false
  const pairs = [...value]
  return node.items.every(
    (pair, index) =>
      isScalar(pair.key) && Object.is(pair.key.value, pairs[index]![0]) && isValue(pair.value, pairs[index]![1]),
  )
}
