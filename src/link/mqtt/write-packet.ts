import { utf8Bytes } from '../../text/utf8.ts'
import { joined } from './bytes.ts'
import {
  type ConnectPacket,
  PACKET,
  PROPERTY,
  type PublishPacket,
  type SubscribeOptions,
  type Version,
} from './packet.ts'

const NOTHING = new Uint8Array(0)

const two = (value: number): Uint8Array => Uint8Array.of(value >> 8, value & 0xff)
const four = (value: number): Uint8Array => Uint8Array.of(value >>> 24, value >>> 16, value >>> 8, value)

/** A variable byte integer: section 2.2.3 of MQTT 3.1.1, 1.5.5 of MQTT 5.0. */
function variable(value: number): Uint8Array {
  const bytes: number[] = []
  let rest = value
  do {
    const digit = rest % 128
    rest = Math.floor(rest / 128)
    bytes.push(rest > 0 ? digit + 128 : digit)
  } while (rest > 0)
  return Uint8Array.from(bytes)
}

/** Bytes with their length before them. */
function prefixed(bytes: Uint8Array): Uint8Array {
  if (bytes.length > 65_535) throw new RangeError(`MQTT takes at most 65535 bytes there, and got ${bytes.length}`)
  return joined([two(bytes.length), bytes])
}

const text = (value: string): Uint8Array => prefixed(utf8Bytes(value))

const packet = (header: number, ...body: readonly Uint8Array[]): Uint8Array => {
  const length = body.reduce((sum, part) => sum + part.length, 0)
  return joined([Uint8Array.of(header), variable(length), ...body])
}

/** The properties of a packet of MQTT 5; 3.1.1 has none. Undefined values are left out. */
function properties(version: Version, values: readonly (readonly [id: number, value: Uint8Array | undefined])[]) {
  if (version === 4) return NOTHING
  const body = values.flatMap(([id, value]) => (value ? [Uint8Array.of(id), value] : []))
  const length = body.reduce((sum, part) => sum + part.length, 0)
  return joined([variable(length), ...body])
}

const bytesOf = (payload: string | Uint8Array): Uint8Array =>
  typeof payload === 'string' ? utf8Bytes(payload) : payload

const ifGiven = <T>(value: T | undefined, write: (value: T) => Uint8Array): Uint8Array | undefined =>
  value === undefined ? undefined : write(value)

/** @throws RangeError when a text is longer than MQTT takes, 65,535 bytes */
export function connectPacket(version: Version, connect: ConnectPacket): Uint8Array {
  const { clientId, clean, keepAliveSeconds, username, password, will } = connect
  const flags =
    (username === undefined ? 0 : 0x80) |
    (password === undefined ? 0 : 0x40) |
    (will ? 0x04 | (will.qos << 3) | (will.retain ? 0x20 : 0) : 0) |
    (clean ? 0x02 : 0)
  return packet(
    PACKET.connect,
    text('MQTT'),
    Uint8Array.of(version, flags),
    two(keepAliveSeconds),
    properties(version, [
      [PROPERTY.sessionExpiryInterval, ifGiven(connect.sessionExpirySeconds, four)],
      [PROPERTY.receiveMaximum, ifGiven(connect.receiveMaximum, two)],
    ]),
    text(clientId),
    ...(will ? [properties(version, []), text(will.topic), prefixed(bytesOf(will.payload))] : []),
    ...(username === undefined ? [] : [text(username)]),
    ...(password === undefined ? [] : [text(password)]),
  )
}

/** @throws RangeError when the topic is longer than 65,535 bytes */
export function publishPacket(version: Version, publish: Omit<PublishPacket, 'dup'>): Uint8Array {
  const { topic, payload, qos, retain, packetId, expirySeconds } = publish
  return packet(
    PACKET.publish | (qos << 1) | (retain ? 1 : 0),
    text(topic),
    packetId === undefined ? NOTHING : two(packetId),
    properties(version, [[PROPERTY.messageExpiryInterval, ifGiven(expirySeconds, four)]]),
    payload,
  )
}

/** Acknowledges a message of QoS 1, with success. */
export const pubackPacket = (packetId: number): Uint8Array => packet(PACKET.puback, two(packetId))

/** @throws RangeError when a filter is longer than 65,535 bytes */
export function subscribePacket(
  version: Version,
  packetId: number,
  filters: readonly string[],
  { qos, retainAsPublished }: SubscribeOptions,
): Uint8Array {
  const options = Uint8Array.of(qos | (version === 5 && retainAsPublished ? 0x08 : 0))
  return packet(
    PACKET.subscribe,
    two(packetId),
    properties(version, []),
    ...filters.flatMap(filter => [text(filter), options]),
  )
}

/** @throws RangeError when a filter is longer than 65,535 bytes */
export const unsubscribePacket = (version: Version, packetId: number, filters: readonly string[]): Uint8Array =>
  packet(PACKET.unsubscribe, two(packetId), properties(version, []), ...filters.map(text))

export const pingreqPacket = (): Uint8Array => packet(PACKET.pingreq)

/** A polite end: the broker publishes no will. */
export const disconnectPacket = (): Uint8Array => packet(PACKET.disconnect)
