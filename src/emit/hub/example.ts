import { isMap, isPair, isScalar, isSeq, type Node, type Pair, visit, type YAMLMap } from 'yaml'
import type { Opening, Register } from '../../register/types.ts'
import { listed } from '../../text/lists.ts'
import type { Problem } from '../../text/problem.ts'
import { shown } from '../../text/problems.ts'
import { fieldOf, type Wire } from './fields.ts'
import { type HubFile, pathOf } from './hub-file.ts'

/** The entry that a person wrote by hand, and where it stands. */
export interface Found {
  readonly entry: YAMLMap
  readonly as: 'list' | 'map'
  readonly key?: Node | null
  readonly place: string
}

/** The nearest list item, or else map value, above a scalar that is the opening's own. */
export function findEntry(
  hub: HubFile,
  register: Register,
  opening: Opening,
  wire: Wire,
): { found?: Found; written: Wire; problems: readonly Problem[] } {
  const other = wire === 'tally' ? 'contact' : 'tally'
  const topic = (w: Wire) => String(fieldOf(opening, 'topic', register, w))
  const tries: readonly (readonly [Wire, readonly string[]])[] = [
    [wire, [topic(wire)]],
    [other, [topic(other)]],
    [wire, [opening.client]],
    [wire, [opening.mark, opening.name]],
  ]
  const identities = new Set(
    [opening.mark, opening.name, opening.client, topic('contact'), topic('tally')].map(text => text.toLowerCase()),
  )
  const refuse = (places: readonly Node[], code: string, message: string) => ({
    written: wire,
    problems: (places.length ? places : [null]).map(node =>
      hub.problem(code, node?.range?.[0] ?? 0, node?.range?.[1] ?? 1, '', message),
    ),
  })
  for (const [written, texts] of tries) {
    const byEntry = new Map<YAMLMap, Found>()
    const doubtful: Node[] = []
    visit(hub.document ?? null, {
      Scalar(_key, scalar, path) {
        if (typeof scalar.value !== 'string' || !texts.includes(scalar.value)) return
        const { found, twofold } = entryAbove(scalar, path, identities)
        if (found) byEntry.set(found.entry, found)
        if (twofold) doubtful.push(...twofold)
      },
    })
    if (doubtful.length) {
      return refuse(
        doubtful,
        'two-entries',
        `Which of these lines begins the entry for ${opening.mark} cannot be told, one list standing inside the other: write a profile that names the place`,
      )
    }
    const [found] = byEntry.values()
    if (byEntry.size > 1) {
      const lines = [...byEntry.keys()].map(entry => hub.line(entry.range?.[0] ?? 0))
      return refuse(
        [...byEntry.keys()],
        'two-entries',
        `Several entries hold ${listed(texts.map(shown), 'or')}, in lines ${lines.join(', ')}, and which one is the example cannot be told: keep one, or write a profile`,
      )
    }
    if (found) return { found, written, problems: [] }
  }
  return refuse(
    [],
    'no-entry',
    `No entry in this file holds the topic ${shown(opening.topic)}, the client id ${shown(opening.client)}, the mark ${shown(opening.mark)} or the name ${shown(opening.name)} as a whole value: write one entry for ${opening.mark} by hand first, as the hub's manual says`,
  )
}

function entryAbove(
  scalar: Node,
  ancestors: readonly unknown[],
  identities: ReadonlySet<string>,
): { found?: Found; twofold?: readonly Node[] } {
  const last = ancestors.at(-1)
  // A key's own block belongs to it, although it does not stand above it.
  const chain: unknown[] =
    isPair(last) && last.key === scalar && isMap(last.value) ? [...ancestors, last.value] : [...ancestors]
  const items: number[] = []
  const values: number[] = []
  for (let index = chain.length - 1; index > 0; index--) {
    if (!isMap(chain[index])) continue
    if (isSeq(chain[index - 1])) items.push(index)
    if (isPair(chain[index - 1])) values.push(index)
  }
  const keyOf = (index: number): Node | null => (chain[index - 1] as Pair).key as Node | null
  const foundAt = (index: number, as: 'list' | 'map'): Found => {
    const owner = as === 'list' ? index - 1 : index - 2
    return {
      entry: chain[index] as YAMLMap,
      as,
      ...(as === 'map' && { key: keyOf(index) }),
      place: pathOf(chain.slice(0, owner), chain[owner]),
    }
  }
  const item = items[0] ?? -1
  const named = values.find(index => {
    const key = keyOf(index)
    return (
      isScalar(key) &&
      identities.has(String(key.value).toLowerCase()) &&
      !(isSeq(chain[index - 3]) && index > item && index - 2 === item)
    )
  })
  if (named !== undefined) return { found: foundAt(named, 'map') }
  if (item < 0) return values[0] === undefined ? {} : { found: foundAt(values[0], 'map') }
  const outer = items.slice(1).find(index => holdsIdentity(chain[index], chain[item - 1], identities))
  return outer === undefined
    ? { found: foundAt(item, 'list') }
    : { twofold: [chain[outer] as Node, chain[item] as Node] }
}

function holdsIdentity(node: unknown, without: unknown, identities: ReadonlySet<string>): boolean {
  if (node === without) return false
  if (isScalar(node)) return typeof node.value === 'string' && identities.has(node.value.toLowerCase())
  if (isPair(node)) return holdsIdentity(node.value, without, identities)
  return (isMap(node) || isSeq(node)) && node.items.some(item => holdsIdentity(item, without, identities))
}
