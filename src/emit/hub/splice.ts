import { type Document, isCollection, isMap, isPair, isScalar, isSeq, type Node } from 'yaml'
import type { Problem } from '../../text/problem.ts'
import { yamlLines } from '../../text/yaml-lines.ts'
import type { Scalar, Value } from '../../text/yaml-value.ts'
import { type CollectionKind, type EntryPlace, findPlace } from './entry-place.ts'
import { type HubFile, parseAll } from './hub-file.ts'
import { markersOf } from './markers.ts'
import { isSameNode, isValue } from './same-node.ts'

/** One generated entry; `key` only in a map. */
export interface HubEntry {
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
export const entryLines = (entries: readonly HubEntry[], as: CollectionKind, indent = ''): string[] =>
  as === 'list'
    ? yamlLines(
        entries.map(({ value }) => value),
        indent,
      )
    : yamlLines(new Map(entries.map(({ key, value }) => [key ?? null, value])), indent, indent, true)

/** What a block is made of, besides the place where it stands. */
export interface Block {
  readonly as: CollectionKind
  readonly tally: string
  /** Comment lines that say what the entries are made from. */
  readonly recipe: readonly string[]
  readonly entries: readonly HubEntry[]
}

/** The block with its markers, each line indented; `isAlone`: nothing else stands in the collection. */
export function blockLines({ as, tally, recipe, entries }: Block, indent = '', isAlone = true): string[] {
  const { begin, end } = markersOf(tally)
  const empty = isAlone ? [`${indent}${as === 'list' ? '[]' : '{}'}`] : []
  const held = entries.length ? entryLines(entries, as, indent) : empty
  return [...[begin, ...recipe].map(line => indent + line), ...held, indent + end]
}

/**
 * Puts a block between our two markers at a place of a hub's file; every byte outside stays as it is, but for a lone
 * `[]` or `{}` at the place. Without entries and recipe the block goes, where other entries stay.
 * The new text is parsed and compared with the old document plus the entries before it is handed out.
 */
export function splice(hub: HubFile, at: string, block: Block): Spliced {
  const { as, recipe, entries } = block
  const { place, problems } = findPlace(hub, at, as)
  if (!place) return { problems }
  const taken = keysTaken(hub, place, at, entries)
  if (taken.length) return { problems: taken }
  const whole = (text: string, more: Partial<Spliced> = {}): Spliced => ({
    text: hub.byteOrderMark + text,
    problems,
    ...more,
  })
  if (entries.length === 0 && recipe.length === 0 && (!hub.block || place.entries)) return whole(hub.base)

  if (hub.block) {
    const text = replaced(hub, hub.block, place, block)
    if (holds(text, hub, place, block, hub.block.from)) return whole(text)
  }
  const inserted = insert(hub.base, place, block)
  // A new block stands after every entry, an empty one at the very end of the file too.
  if (holds(inserted, hub, place, block, Number.POSITIVE_INFINITY))
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
function keysTaken(hub: HubFile, place: EntryPlace, at: string, entries: readonly HubEntry[]): Problem[] {
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

function replaced(hub: HubFile, { from, to }: { from: number; to: number }, place: EntryPlace, block: Block): string {
  const old = hub.text.slice(from, to)
  const eol = /\r?\n/.exec(old)?.[0] ?? '\n'
  const indent = place.entries ? place.indent : (/^ */.exec(old)?.[0].length ?? 0)
  const lines = blockLines(block, ' '.repeat(indent), !place.entries).join(eol)
  return hub.text.slice(0, from) + lines + (old.endsWith('\n') ? eol : '') + hub.text.slice(to)
}

function insert(base: string, place: EntryPlace, block: Block): string {
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
  const lines = blockLines(block, ' '.repeat(indent), !place.entries).join(eol)
  const open = at > 0 && text[at - 1] !== '\n'
  return text.slice(0, at) + (open ? eol + lines : lines + eol) + text.slice(at)
}

/** The beginning of the first line at or after an offset. */
export const lineAfter = (text: string, offset: number): number => {
  if (offset > 0 && offset <= text.length && text[offset - 1] === '\n') return offset
  const feed = text.indexOf('\n', offset)
  return feed < 0 ? text.length : feed + 1
}

const deeperComment = (line: string, indent: number): boolean => {
  const spaces = /^( *)#/.exec(line)?.[1]
  return spaces !== undefined && spaces.length > indent
}

/** True when `text` is the old document plus the entries at the place, in one run, and nothing else. */
function holds(text: string, hub: HubFile, place: EntryPlace, { as, entries }: Block, at: number): boolean {
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
      return isSameNode(kept[index < before ? index : index - entries.length], item)
    })
  }
  const contents = (documents[0] as Document).contents
  if (hub.root === null || hub.root === place.node) return plusEntries(contents)
  return isSameNode(hub.root, contents, (one, other) => (one === place.node ? plusEntries(other) : undefined))
}

const startOf = (item: unknown): number => ((isPair(item) ? item.key : item) as Node | null)?.range?.[0] ?? 0

function isEntry(item: unknown, { key, value }: HubEntry): boolean {
  if (isPair(item)) return isScalar(item.key) && item.key.value === key && isValue(item.value, value)
  return isValue(item, value)
}
