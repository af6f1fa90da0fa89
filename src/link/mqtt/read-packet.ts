import { utf8Text } from '../../text/utf8.ts'
import { joined, variableAt } from './bytes.ts'
import { type IncomingPacket, PACKET, PacketFault, PROPERTY, type Version } from './packet.ts'

/** Makes packets of bytes that come in pieces of any length. */
export class PacketReader {
  readonly #version: Version
  #pieces: Uint8Array[] = []
  #length = 0
  /** Bytes that must be there before there is anything to do. */
  #wanted = 2

  constructor(version: Version) {
    this.#version = version
  }

  /**
   * Takes a piece and answers every packet that it completes.
   * @throws PacketFault for bytes that a broker may not send; nothing can be read after it
   */
  read(piece: Uint8Array): IncomingPacket[] {
    this.#pieces.push(piece)
    this.#length += piece.length
    if (this.#length < this.#wanted) return []
    const bytes = joined(this.#pieces)
    const packets: IncomingPacket[] = []
    let at = 0
    for (;;) {
      const head = variableAt(bytes, at + 1)
      const end = head && head.end + head.value
      this.#wanted = end === undefined ? bytes.length - at + 1 : end - at
      if (end === undefined || end > bytes.length) break
      packets.push(packetOf(this.#version, bytes[at]!, new Fields(bytes.subarray(head!.end, end))))
      at = end
    }
    this.#pieces = at < bytes.length ? [bytes.subarray(at)] : []
    this.#length = bytes.length - at
    return packets
  }
}

/** The fields of one packet, in their order. */
class Fields {
  readonly #bytes: Uint8Array
  #at = 0

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes
  }

  get left(): number {
    return this.#bytes.length - this.#at
  }

  bytes(length: number): Uint8Array {
    if (length > this.left) throw new PacketFault(`a packet ends ${length - this.left} bytes too soon`)
    this.#at += length
    return this.#bytes.subarray(this.#at - length, this.#at)
  }

  rest(): Uint8Array {
    return this.bytes(this.left)
  }

  number(bytes: 1 | 2 | 4): number {
    return this.bytes(bytes).reduce((sum, byte) => sum * 256 + byte, 0)
  }

  variable(): number {
    const found = variableAt(this.#bytes, this.#at)
    if (!found) throw new PacketFault('a packet ends within a length')
    this.#at = found.end
    return found.value
  }

  text(): string {
    return utf8Text(this.bytes(this.number(2)))
  }

  /** Properties of MQTT 5 that are numbers; texts are passed over. Packets of 3.1.1 have none. */
  properties(version: Version): ReadonlyMap<number, number> {
    const found = new Map<number, number>()
    if (version === 4) return found
    const part = new Fields(this.bytes(this.variable()))
    while (part.left > 0) {
      const id = part.variable()
      const form = FORMS[id]
      if (form === undefined) throw new PacketFault(`a packet has a property ${id} that MQTT 5 does not know`)
      if (form === 'variable') found.set(id, part.variable())
      else if (typeof form === 'number') found.set(id, part.number(form))
      else for (let texts = form === 'pair' ? 2 : 1; texts > 0; texts--) part.bytes(part.number(2))
    }
    return found
  }
}

/** How each property is written, in bytes of a number or as texts: MQTT 5.0, table 2-4. */
const FORMS: Readonly<Record<number, 1 | 2 | 4 | 'variable' | 'text' | 'pair'>> = {
  1: 1,
  2: 4,
  3: 'text',
  8: 'text',
  9: 'text',
  11: 'variable',
  17: 4,
  18: 'text',
  19: 2,
  21: 'text',
  22: 'text',
  23: 1,
  24: 4,
  25: 1,
  26: 'text',
  28: 'text',
  31: 'text',
  33: 2,
  34: 2,
  35: 2,
  36: 1,
  37: 1,
  38: 'pair',
  39: 4,
  40: 1,
  41: 1,
  42: 1,
}

function packetOf(version: Version, header: number, fields: Fields): IncomingPacket {
  if ((header & 0xf0) === PACKET.publish) return publishOf(version, header, fields)
  switch (header) {
    case PACKET.connack:
      return connackOf(version, fields)
    case PACKET.puback:
      // MQTT 5.0, section 3.4.2.1: without a reason code it is success.
      return { kind: 'puback', packetId: fields.number(2), code: fields.left > 0 ? fields.number(1) : 0 }
    case PACKET.suback:
    case PACKET.unsuback: {
      const packetId = fields.number(2)
      fields.properties(version)
      return { kind: header === PACKET.suback ? 'suback' : 'unsuback', packetId, codes: [...fields.rest()] }
    }
    case PACKET.pingresp:
      return { kind: 'pingresp' }
    case PACKET.disconnect:
      if (version === 5) return { kind: 'disconnect', code: fields.left > 0 ? fields.number(1) : 0 }
  }
  throw new PacketFault(`a packet begins with 0x${header.toString(16).padStart(2, '0')}, which no broker sends here`)
}

function connackOf(version: Version, fields: Fields): IncomingPacket {
  const sessionPresent = (fields.number(1) & 1) === 1
  const code = fields.number(1)
  const found = fields.left > 0 ? fields.properties(version) : new Map<number, number>()
  const keepAliveSeconds = found.get(PROPERTY.serverKeepAlive)
  const receiveMaximum = found.get(PROPERTY.receiveMaximum)
  return {
    kind: 'connack',
    code,
    sessionPresent,
    ...(keepAliveSeconds === undefined ? {} : { keepAliveSeconds }),
    ...(receiveMaximum === undefined ? {} : { receiveMaximum }),
  }
}

function publishOf(version: Version, header: number, fields: Fields): IncomingPacket {
  const qos = (header >> 1) & 3
  if (qos > 1) throw new PacketFault(`a message comes with QoS ${qos}, and at most 1 was asked for`)
  const topic = fields.text()
  const packetId = qos === 1 ? fields.number(2) : undefined
  if (packetId === 0) throw new PacketFault('a message comes with the packet id 0')
  const found = fields.properties(version)
  if (topic === '' || found.has(PROPERTY.topicAlias))
    throw new PacketFault('a message comes with a topic alias, and none was asked for')
  const expirySeconds = found.get(PROPERTY.messageExpiryInterval)
  return {
    kind: 'publish',
    topic,
    payload: fields.rest(),
    qos: qos as 0 | 1,
    retain: (header & 1) === 1,
    dup: (header & 8) === 8,
    ...(packetId === undefined ? {} : { packetId }),
    ...(expirySeconds === undefined ? {} : { expirySeconds }),
  }
}
