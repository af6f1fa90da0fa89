import { sha256Hex } from '../text/sha256.ts'
import { addressesOf, brokerOf, publishesRetained } from './topics.ts'
import type { Opening, Register } from './types.ts'

/** The facts that a contact's firmware header holds; a change of any of them means flashing it again. */
export interface HeaderFacts {
  readonly mark: string
  readonly client: string
  readonly topic: string
  readonly words: { readonly opened: string; readonly closed?: string }
  /** The word the broker publishes for the contact, always retained. */
  readonly will: { readonly word: string; readonly retain: true }
  readonly keepAliveSeconds: number
  /** Seconds after which an open contact says its word again. */
  readonly repeatSeconds?: number
  readonly qos: 0 | 1 | 2
  /** Whether the contact's own words are published retained. */
  readonly retain: boolean
  readonly broker?: { readonly host: string; readonly port: number; readonly tls: boolean }
  /** Further nodes of the broker, which a contact tries in turn; each speaks TLS where the first does. */
  readonly nodes?: readonly { readonly host: string; readonly port: number }[]
  readonly json?: Opening['sender']['json']
  readonly wifi?: Opening['wifi']
}

type Contact = Omit<Opening, 'revision'>

/** Facts of one contact's header; facts that the register does not give are absent. */
export function headerFacts(opening: Contact, broker: Register['broker']): HeaderFacts {
  const { sender } = opening
  const { opened, closed } = sender.words
  const [address, ...nodes] = addressesOf(broker, 'mqtt').flatMap(each => brokerOf(each) ?? [])
  return {
    mark: opening.mark,
    client: opening.client,
    topic: opening.topic,
    words: { opened, ...(closed !== undefined && { closed }) },
    will: { word: sender.words.rest ?? sender.words.gone ?? '', retain: true },
    keepAliveSeconds: sender.keepAliveSeconds,
    ...(opening.settings.repeatSeconds !== undefined && { repeatSeconds: opening.settings.repeatSeconds }),
    qos: sender.qos,
    retain: publishesRetained(opening),
    ...(address && { broker: { host: address.host, port: address.port, tls: address.tls } }),
    ...(nodes.length > 0 && { nodes: nodes.map(({ host, port }) => ({ host, port })) }),
    ...(sender.json && { json: sender.json }),
    ...(opening.wifi && { wifi: opening.wifi }),
  }
}

/** JSON with keys sorted and no spaces: equal values give equal text. */
export function canonicalJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`
  if (value === null || typeof value !== 'object') return JSON.stringify(value)
  const parts = Object.entries(value)
    .filter(([, part]) => part !== undefined)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([key, part]) => `${JSON.stringify(key)}:${canonicalJson(part)}`)
  return `{${parts.join(',')}}`
}

/** First 8 hex digits of SHA-256 (FIPS 180-4) over the canonical JSON of the facts. */
export const revisionOf = (facts: HeaderFacts): string => sha256Hex(canonicalJson(facts)).slice(0, 8)

/** One fact that differs between two headers; `was` or `now` is absent where a side lacks it. */
export interface ChangedFact {
  /** Dotted name: `keepAliveSeconds`, `words.opened`, `broker.host`, `nodes.0.host`. */
  readonly fact: string
  readonly was?: string | number | boolean
  readonly now?: string | number | boolean
}

/** Facts of a header as somebody kept them: of an earlier version perhaps, with others than are known here. */
export interface KeptFacts {
  readonly [fact: string]: string | number | boolean | KeptFacts | readonly KeptFacts[]
}

/** Facts that differ, by name; empty when the headers are the same. */
export function changedFacts(was: HeaderFacts | KeptFacts, now: HeaderFacts): ChangedFact[] {
  const before = flat(was)
  const after = flat(now)
  return [...new Set([...before.keys(), ...after.keys()])].flatMap(fact => {
    const [old, fresh] = [before.get(fact), after.get(fact)]
    if (old === fresh) return []
    return [{ fact, ...(old !== undefined && { was: old }), ...(fresh !== undefined && { now: fresh }) }]
  })
}

function flat(value: object, under = '', into = new Map<string, string | number | boolean>()) {
  for (const [key, part] of Object.entries(value)) {
    if (part !== null && typeof part === 'object') flat(part, `${under}${key}.`, into)
    else if (part !== undefined) into.set(under + key, part)
  }
  return into
}
