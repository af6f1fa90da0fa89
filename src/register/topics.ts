import { isLoopbackAddress } from '../text/loopback.ts'
import type { BrokerAddresses, Opening } from './types.ts'

/** Longest topic name in bytes of UTF-8 (MQTT-4.7.3-3). */
export const TOPIC_BYTES = 65_535

/** Length of a text in bytes of UTF-8. */
export function utf8Length(text: string): number {
  let bytes = 0
  // Two code units, above U+FFFF, are four bytes.
  for (const one of text) bytes += one < '\u0080' ? 1 : one < '\u0800' ? 2 : one.length + 2
  return bytes
}

/** A rule that a topic name breaks: a short code, and what is wrong as the end of a sentence. */
export interface TopicFault {
  readonly code: string
  readonly says: string
}

/**
 * What MQTT forbids in the name of a topic that is published to, and what no line of an access list can hold.
 * @returns undefined when the topic is fine
 * @see MQTT 3.1.1 and 5.0, section 4.7; 3.1.1, section 1.5.3 (5.0: 1.5.4) for the characters
 */
export function topicFault(topic: string): TopicFault | undefined {
  if (topic === '') return { code: 'topic-empty', says: 'is empty; a topic has at least one character (MQTT-4.7.3-1)' }
  if (/[\p{Cc}\p{Cs}]/u.test(topic)) {
    return {
      code: 'topic-character',
      says: 'holds a control character or half a character, which brokers refuse (MQTT-1.5.3-1, MQTT-4.7.3-2)',
    }
  }
  if (topic.trim() !== topic) {
    return { code: 'topic-blank', says: 'begins or ends with a blank, which access lists leave out' }
  }
  const wildcard = /[+#]/.exec(topic)?.[0]
  if (wildcard) {
    return {
      code: 'topic-wildcard',
      says: `holds ${wildcard}, a wildcard of filters that no topic name may hold (MQTT-4.7.1-1, MQTT-3.3.2-2)`,
    }
  }
  if (topic.startsWith('$')) {
    return { code: 'topic-dollar', says: 'begins with $, which brokers keep for themselves (MQTT-4.7.2-1)' }
  }
  const bytes = utf8Length(topic)
  if (bytes > TOPIC_BYTES) {
    return { code: 'topic-long', says: `has ${bytes} bytes; a topic has at most ${TOPIC_BYTES} (MQTT-4.7.3-3)` }
  }
  return undefined
}

/** True when every broker must accept the client id (MQTT-3.1.3-5): 1 to 23 of 0-9, a-z, A-Z. */
export const isPortableClient = (client: string): boolean => /^[0-9A-Za-z]{1,23}$/.test(client)

/** The level above the tally's own topics: `ropewalk` of `ropewalk/tally`, '' of `tally`. */
export const parentLevel = (tally: string): string => tally.slice(0, Math.max(0, tally.lastIndexOf('/')))

/** Topic of a contact whose register line gives none: from its mark, never from its name. */
export function derivedTopic(tally: string, mark: string): string {
  const parent = parentLevel(tally)
  return parent === '' && !tally.startsWith('/') ? mark.toLowerCase() : `${parent}/${mark.toLowerCase()}`
}

/** Client id of a contact whose register line gives none: the letters and digits of its derived topic. */
export const derivedClient = (tally: string, mark: string): string =>
  derivedTopic(tally, mark).replace(/[^0-9A-Za-z]/g, '')

/** True when a topic is the tally's own topic or lies beneath it. */
export const isInside = (topic: string, tally: string): boolean => topic === tally || topic.startsWith(`${tally}/`)

/** Parts of a broker's address. */
export interface Broker {
  readonly host: string
  readonly port: number
  readonly tls: boolean
  /** Path with its slash, '' when there is none; websocket only. */
  readonly path: string
}

const PORTS: Readonly<Record<string, number>> = { mqtt: 1883, mqtts: 8883, ws: 80, wss: 443 }

/**
 * Reads `mqtt://host:1883`, `mqtts://`, `ws://` or `wss://`.
 * @returns undefined when it is no such address, or when a user or password stands in it
 */
export function brokerOf(address: string): Broker | undefined {
  const parts = /^(mqtts?|wss?):\/\/(\[[0-9A-Fa-f:.]+\]|[^\s@/?#:[\]]+)(?::(\d{1,5}))?(\/[^\s#]*)?$/.exec(address)
  if (!parts) return undefined
  const [, scheme = '', host = '', digits, path = ''] = parts
  const port = digits === undefined ? (PORTS[scheme] ?? 0) : Number(digits)
  if (port < 1 || port > 65_535) return undefined
  return { host: host.toLowerCase(), port, tls: scheme === 'mqtts' || scheme === 'wss', path }
}

/** Every address of the broker, in the order in which they are tried. */
export const addressesOf = (broker: BrokerAddresses, kind: 'mqtt' | 'websocket'): readonly string[] =>
  [broker[kind] ?? [], broker[`${kind}Next`] ?? []].flat()

/** True for a name or address that means "this same machine". */
export const isLoopback = (host: string): boolean => isLoopbackAddress(host) || host.endsWith('.localhost')

/** True for an IPv4 or bracketed IPv6 address where a host name could stand. */
export const isAddress = (host: string): boolean => host.startsWith('[') || /^\d{1,3}(\.\d{1,3}){3}$/.test(host)

/** What a contact publishes retained: its rest word always is (the will), its opened word only with both edges. */
export const publishesRetained = (opening: Pick<Opening, 'sender'>): boolean => opening.sender.reports === 'both'
