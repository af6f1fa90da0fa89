import { isMap, isPair, isScalar, isSeq, type Node, type Pair, type YAMLMap } from 'yaml'
import type { Opening, Register } from '../../register/types.ts'
import { listed } from '../../text/lists.ts'
import type { Problem } from '../../text/problem.ts'
import { shown } from '../../text/problems.ts'
import type { CollectionKind } from './entry-place.ts'
import { holdsRun } from './facts.ts'
import type { Wire } from './field-names.ts'
import { fieldOf } from './field-values.ts'
import { type HubFile, pathOf } from './hub-file.ts'

/** The entry that a person wrote by hand, and where it stands. */
export interface Found {
  readonly entry: YAMLMap
  readonly as: CollectionKind
  readonly key?: Node | null
  readonly place: string
  /** Whose topic and words it holds. */
  readonly written: Wire
}

interface Try {
  readonly written: Wire
  readonly texts: readonly string[]
  /** Only a scalar or a key that is equal in full. */
  readonly whole: boolean
}

/**
 * The nearest list item, or else map value, above a scalar that holds something of the opening's own.
 * @param blockPlace - where a block stands already: what has the mark or the name alone elsewhere is no entry
 */
export function findEntry(
  hub: HubFile,
  register: Register,
  opening: Opening,
  { wire, blockPlace }: { readonly wire: Wire; readonly blockPlace?: string | undefined },
): { found?: Found; problems: readonly Problem[] } {
  const other = wire === 'tally' ? 'contact' : 'tally'
  const topic = (w: Wire) => String(fieldOf(opening, 'topic', register, w))
  const tries: readonly Try[] = [
    { written: wire, texts: [topic(wire)], whole: false },
    { written: other, texts: [topic(other)], whole: false },
    { written: wire, texts: [opening.client], whole: false },
    { written: wire, texts: [opening.mark, opening.name], whole: true },
  ]
  const own: Own = {
    codes: [opening.mark, opening.client, topic('contact'), topic('tally')].map(text => text.toLowerCase()),
    name: opening.name.toLowerCase(),
    isRoom: opening.name === opening.room,
  }
  const chains = chainsTo(hub.root, tries)
  for (const [index, { written, texts, whole }] of tries.entries()) {
    const byEntry = new Map<YAMLMap, Omit<Found, 'written'>>()
    const doubtful = new Set<Node>()
    for (const chain of chains[index]!) {
      const { found, either = [] } = entryAbove(chain, own)
      if (whole && blockPlace !== undefined && found?.place !== blockPlace) continue
      if (found) byEntry.set(found.entry, found)
      for (const node of either) doubtful.add(node)
    }
    // What holds it itself is the entry, and a list inside of it is a part.
    for (const inner of byEntry.keys())
      if ([...byEntry.keys()].some(outer => outer !== inner && isInside(inner, outer))) byEntry.delete(inner)
    const [found] = byEntry.values()
    if (found && byEntry.size === 1 && doubtful.size === 0) return { found: { ...found, written }, problems: [] }
    const entries = [...doubtful, ...byEntry.keys()]
    if (entries.length === 0) continue
    const lines = entries.map(entry => hub.line(entry.range?.[0] ?? 0))
    const says = doubtful.size
      ? `Which of the lines ${lines.join(', ')} begins the entry for ${opening.mark} cannot be told, one list standing inside the other and the name being the room's too: give the outer one the mark as well, or write a profile`
      : `Several entries hold ${listed(texts.map(shown), 'or')}, in lines ${lines.join(', ')}, and which one is the example cannot be told: keep one, or write a profile`
    return {
      problems: entries.map(({ range }) => hub.problem('two-entries', range?.[0] ?? 0, range?.[1] ?? 1, '', says)),
    }
  }
  const says = `No entry in this file holds the topic ${shown(opening.topic)} or the client id ${shown(opening.client)}, or has the mark ${shown(opening.mark)} or the name ${shown(opening.name)} as a whole value or key: write one entry for ${opening.mark} by hand first, as the hub's manual says`
  return { problems: [hub.problem('no-entry', 0, 1, '', says)] }
}

const isInside = ({ range: inner }: Node, { range: outer }: Node): boolean =>
  inner !== undefined && inner !== null && !!outer && inner[0] >= outer[0] && inner[1] <= outer[1]

/** For each try, the ways from the root to the scalars that hold one of its texts, in one walk over the file. */
function chainsTo(root: Node | null, tries: readonly Try[]): unknown[][][] {
  const found: unknown[][][] = tries.map(() => [])
  const chain: unknown[] = []
  const visit = (node: unknown): void => {
    if (isScalar(node)) {
      const { value } = node
      if (typeof value !== 'string') return
      for (const [index, { texts, whole }] of tries.entries())
        if (texts.some(text => (whole ? value === text : holdsRun(value, text)))) found[index]!.push([...chain, node])
      return
    }
    chain.push(node)
    if (isPair(node)) {
      visit(node.key)
      visit(node.value)
    } else if (isMap(node) || isSeq(node)) for (const item of node.items) visit(item)
    chain.pop()
  }
  visit(root)
  return found
}

/** Texts that tell whose entry it is, in lower case; a name and a very short code tell it only in full. */
interface Own {
  readonly codes: readonly string[]
  readonly name: string
  readonly isRoom: boolean
}

/** The entry around a scalar, the last of `way`; `either`: two nodes that could both be it. */
function entryAbove(way: readonly unknown[], own: Own): { found?: Omit<Found, 'written'>; either?: readonly Node[] } {
  const [scalar, last] = [way.at(-1), way.at(-2)]
  // A key's own block belongs to it, although it does not stand above it.
  const isKey = isPair(last) && last.key === scalar
  const chain = isKey && isMap(last.value) ? [...way.slice(0, -1), last.value] : way.slice(0, -1)
  const items: number[] = []
  const values: number[] = []
  for (let index = chain.length - 1; index > 0; index--) {
    if (!isMap(chain[index])) continue
    if (isSeq(chain[index - 1])) items.push(index)
    if (isPair(chain[index - 1])) values.push(index)
  }
  const keyOf = (index: number): Node | null => (chain[index - 1] as Pair).key as Node | null
  const foundAt = (index: number, as: CollectionKind) => {
    const owner = as === 'list' ? index - 1 : index - 2
    const place = pathOf(chain.slice(0, owner), chain[owner])
    return { found: { entry: chain[index] as YAMLMap, as, ...(as === 'map' && { key: keyOf(index) }), place } }
  }
  const item = items[0] ?? -1
  const named = values.find(index => {
    // `- W01: {...}` is an item with a key, not a map of entries.
    const isKeyOfItem = isSeq(chain[index - 3]) && index > item && index - 2 === item
    return !isKeyOfItem && isOwn(keyOf(index), own) !== undefined
  })
  if (named !== undefined) return foundAt(named, 'map')
  if (item < 0) return values[0] === undefined ? {} : foundAt(values[0], 'map')
  // A list inside an entry: the item around that list says itself whose it is.
  const outer = items
    .slice(1)
    .filter((index, k) => isOwn(chain[index], own, chain[items[k]! - 1]))
    .at(-1)
  if (outer === undefined) return foundAt(item, 'list')
  const inner = chain[item - 1] as { items: unknown[] }
  const isGroup =
    own.isRoom && isOwn(chain[outer], own, inner) === 'name' && inner.items.filter(each => isOwn(each, own)).length < 2
  return isGroup ? { either: [chain[outer] as Node, chain[item] as Node] } : foundAt(outer, 'list')
}

/** What in a node tells that it is the opening's; keys and `without` are not looked into. */
function isOwn(node: unknown, own: Own, without?: unknown): 'code' | 'name' | undefined {
  if (node === without || node === null) return undefined
  if (isScalar(node)) {
    const text = typeof node.value === 'string' ? node.value.toLowerCase() : ''
    const isCode = own.codes.some(code => (code.length < 3 ? text === code : holdsRun(text, code)))
    return isCode ? 'code' : text === own.name ? 'name' : undefined
  }
  if (isPair(node)) return isOwn(node.value, own, without)
  if (!isMap(node) && !isSeq(node)) return undefined
  const found = node.items.map(each => isOwn(each, own, without))
  return found.find(each => each === 'code') ?? found.find(each => each === 'name')
}
