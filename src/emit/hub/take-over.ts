import {
  type Alias,
  isAlias,
  isCollection,
  isNode,
  isPair,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  type Scalar,
  type YAMLMap,
  type YAMLSeq,
} from 'yaml'
import { type EntryPlace, findPlace, lastInk } from './entry-place.ts'
import { type HubFile, readHubFile } from './hub-file.ts'
import type { Profile } from './profile.ts'
import { isSameNode } from './same-node.ts'
import { lineAfter } from './splice.ts'

/**
 * The hub's file without some entries at the profile's place: whole lines, and every other byte stays.
 * @returns undefined where they cannot be taken out without a change to something else, such as an anchor in them that
 * is repeated elsewhere
 */
export function withoutEntries(
  hub: HubFile,
  { place: at, as }: Profile,
  items: readonly (Node | Pair)[],
  tally: string,
): HubFile | undefined {
  const { place } = findPlace(hub, at, as)
  if (!place?.entries) return undefined
  if (isRepeated(hub, items)) return undefined
  let { text } = hub
  const ranges = items.map(item => linesOf(item, place, hub.base))
  for (const range of ranges.sort((one, other) => (other?.[0] ?? 0) - (one?.[0] ?? 0))) {
    if (!range) return undefined
    text = text.slice(0, hub.inText(range[0])) + text.slice(hub.inText(range[1] - 1) + 1)
  }
  const { hub: now } = readHubFile(hub.byteOrderMark + text, tally)
  return now && isWithout(hub, now, place, items) ? now : undefined
}

/** True when an anchor inside of the entries is repeated outside of them. */
function isRepeated({ root }: HubFile, items: readonly unknown[]): boolean {
  const anchors = new Set(
    items.flatMap(item => [...nodesOf(item)].flatMap(node => (isAlias(node) ? [] : [node.anchor]))),
  )
  for (const node of nodesOf(root, new Set(items))) if (isAlias(node) && anchors.has(node.source)) return true
  return false
}

function* nodesOf(
  node: unknown,
  without: ReadonlySet<unknown> = new Set(),
): Generator<Alias | Scalar | YAMLMap | YAMLSeq> {
  if (without.has(node)) return
  if (isNode(node)) yield node as Alias | Scalar | YAMLMap | YAMLSeq
  if (isPair(node)) {
    yield* nodesOf(node.key, without)
    yield* nodesOf(node.value, without)
  } else if (isCollection(node)) for (const item of node.items) yield* nodesOf(item, without)
}

/** Offsets in the base of the whole lines of an entry; undefined where something else stands on its first line. */
function linesOf(item: Node | Pair, { entries }: EntryPlace, base: string): [number, number] | undefined {
  const from = isPair(item) ? (item.key as Node | null)?.range?.[0] : dashOf(item, entries)
  if (from === undefined) return undefined
  const start = base.lastIndexOf('\n', from - 1) + 1
  const end = isPair(item)
    ? Math.max(lastInk(item.key as Node | null), lastInk(item.value as Node | null))
    : lastInk(item)
  return base.slice(start, from).trim() === '' ? [start, lineAfter(base, end)] : undefined
}

function dashOf(item: Node, entries: EntryPlace['entries']): number | undefined {
  const token = entries?.srcToken
  if (!isSeq(entries) || token?.type !== 'block-seq') return undefined
  const dashes = token.items.flatMap(({ start }) => start.filter(({ type }) => type === 'seq-item-ind'))
  return dashes[entries.items.indexOf(item)]?.offset
}

function isWithout(was: HubFile, now: HubFile, { node }: EntryPlace, items: readonly unknown[]): boolean {
  const isLess = (old: unknown, left: unknown): boolean => {
    if (!isCollection(old)) return false
    const kept = (old.items as unknown[]).filter(item => !items.includes(item))
    if (kept.length === 0 && left === null) return !old.anchor && !old.tag
    if (kept.length === 0 && isScalar(left)) return left.value === null && left.anchor === old.anchor
    return (
      isCollection(left) &&
      isSeq(left) === isSeq(old) &&
      left.anchor === old.anchor &&
      left.tag === old.tag &&
      left.items.length === kept.length &&
      kept.every((item, index) => isSameNode(item, left.items[index]))
    )
  }
  if (was.root === node) return isLess(node, now.root)
  return isSameNode(was.root, now.root, (one, other) => (one === node ? isLess(one, other) : undefined))
}
