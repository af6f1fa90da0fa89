import fc from 'fast-check'
import { generate, type Packet, parser } from 'mqtt-packet'
import { describe, expect, test } from 'vitest'
import { type IncomingPacket, PacketFault, type Version } from '../../src/link/mqtt/packet.ts'
import { PacketReader } from '../../src/link/mqtt/read-packet.ts'
import {
  connectPacket,
  disconnectPacket,
  pingreqPacket,
  pubackPacket,
  publishPacket,
  subscribePacket,
  unsubscribePacket,
} from '../../src/link/mqtt/write-packet.ts'

// The reference of these tests is the package mqtt-packet: it reads what is written here, and writes what is read here.

const versions = fc.constantFrom<Version>(4, 5)
const text = fc
  .string({ unit: 'grapheme', minLength: 1, maxLength: 40 })
  .filter(each => !/[\0#+\ud800-\udfff]/.test(each))
const bytes = fc.uint8Array({ maxLength: 300 })
const id = fc.integer({ min: 1, max: 65_535 })
const qos = fc.constantFrom<0 | 1>(0, 1)
const seconds = fc.integer({ min: 0, max: 2 ** 32 - 1 })
const maybe = <T>(some: fc.Arbitrary<T>) => fc.option(some, { nil: undefined })

/** What the reference reads of bytes: one packet, and nothing left over. */
function readByReference(written: Uint8Array, version: Version): Packet {
  const packets: Packet[] = []
  const reference = parser({ protocolVersion: version })
  reference.on('packet', packet => packets.push(packet))
  reference.on('error', error => {
    throw error
  })
  expect(reference.parse(Buffer.from(written))).toBe(0)
  expect(packets).toHaveLength(1)
  return packets[0]!
}

const given = (object: object): object =>
  Object.fromEntries(Object.entries(object).filter(([, value]) => value !== undefined))

describe('what is written is read by the reference: ', () => {
  test('CONNECT', () => {
    const will = fc.record({ topic: text, payload: fc.string(), qos, retain: fc.boolean() })
    fc.assert(
      fc.property(
        versions,
        fc.record({
          clientId: text,
          clean: fc.boolean(),
          keepAliveSeconds: fc.integer({ min: 0, max: 65_535 }),
          username: maybe(text),
          password: maybe(text),
          will: maybe(will),
          receiveMaximum: maybe(fc.integer({ min: 1, max: 65_535 })),
          sessionExpirySeconds: maybe(seconds),
        }),
        (version, connect) => {
          // MQTT 3.1.1, section 3.1.2.9: no password without a user.
          const password = connect.username === undefined ? undefined : connect.password
          const packet = readByReference(
            connectPacket(version, { ...given({ ...connect, password }) } as never),
            version,
          )
          const { receiveMaximum, sessionExpirySeconds: sessionExpiryInterval } = connect
          const properties = given({ receiveMaximum, sessionExpiryInterval })
          expect(packet).toMatchObject({
            cmd: 'connect',
            protocolId: 'MQTT',
            protocolVersion: version,
            clean: connect.clean,
            clientId: connect.clientId,
            keepalive: connect.keepAliveSeconds,
            ...given({ username: connect.username, password: password && Buffer.from(password) }),
            ...(connect.will ? { will: { ...connect.will, payload: Buffer.from(connect.will.payload) } } : {}),
            ...(version === 5 && Object.keys(properties).length > 0 ? { properties } : {}),
          })
          expect('will' in packet && packet.will !== undefined).toBe(connect.will !== undefined)
        },
      ),
    )
  })

  test('PUBLISH', () => {
    fc.assert(
      fc.property(
        versions,
        fc.record({ topic: text, payload: bytes, qos, retain: fc.boolean() }),
        id,
        maybe(seconds),
        (version, publish, packetId, expirySeconds) => {
          const numbered = publish.qos === 1 ? { packetId } : {}
          const written = publishPacket(version, { ...publish, ...numbered, ...given({ expirySeconds }) })
          expect(readByReference(written, version)).toMatchObject({
            cmd: 'publish',
            ...publish,
            payload: Buffer.from(publish.payload),
            dup: false,
            ...(publish.qos === 1 ? { messageId: packetId } : {}),
            ...(version === 5 && expirySeconds !== undefined
              ? { properties: { messageExpiryInterval: expirySeconds } }
              : {}),
          })
        },
      ),
    )
  })

  test('SUBSCRIBE and UNSUBSCRIBE', () => {
    const filters = fc.array(text, { minLength: 1, maxLength: 5 })
    fc.assert(
      fc.property(versions, id, filters, qos, fc.boolean(), (version, packetId, topics, asked, rap) => {
        const subscribe = subscribePacket(version, packetId, topics, { qos: asked, retainAsPublished: rap })
        expect(readByReference(subscribe, version)).toMatchObject({
          cmd: 'subscribe',
          messageId: packetId,
          subscriptions: topics.map(topic => ({
            topic,
            qos: asked,
            ...(version === 5 ? { rap, nl: false, rh: 0 } : {}),
          })),
        })
        const unsubscribe = readByReference(unsubscribePacket(version, packetId, topics), version)
        expect(unsubscribe).toMatchObject({ cmd: 'unsubscribe', messageId: packetId, unsubscriptions: topics })
      }),
    )
  })

  test.each([4, 5] as const)('PUBACK, PINGREQ and DISCONNECT of version %i', version => {
    fc.assert(
      fc.property(id, packetId => {
        expect(readByReference(pubackPacket(packetId), version)).toMatchObject({ cmd: 'puback', messageId: packetId })
      }),
    )
    expect(readByReference(pingreqPacket(), version)).toMatchObject({ cmd: 'pingreq' })
    expect(readByReference(disconnectPacket(), version)).toMatchObject({ cmd: 'disconnect' })
  })
})

/** A packet as the reference writes it, and as it must be read here. */
type Pair = { readonly sent: Packet; readonly read: IncomingPacket }

const codes4 = fc.constantFrom(0, 1, 128)
const codes5 = fc.constantFrom(0, 1, 128, 135, 151)

function incoming(version: Version): fc.Arbitrary<Pair> {
  const code = version === 4 ? fc.constant(0) : codes5
  const five = <T>(some: fc.Arbitrary<T>) => (version === 5 ? maybe(some) : fc.constant(undefined))
  const number = fc.integer({ min: 1, max: 65_535 })
  const connack = fc
    .tuple(fc.constantFrom(0, 4, 5), fc.boolean(), five(number), five(number), five(text))
    .map(([code, sessionPresent, serverKeepAlive, receiveMaximum, reasonString]): Pair => {
      const properties = given({
        serverKeepAlive,
        receiveMaximum,
        reasonString,
        ...(reasonString ? { userProperties: { a: 'b' } } : {}),
      })
      return {
        sent: {
          cmd: 'connack',
          sessionPresent,
          ...(version === 4 ? { returnCode: code } : { reasonCode: code, properties }),
        },
        read: {
          kind: 'connack',
          sessionPresent,
          code,
          ...given({ keepAliveSeconds: serverKeepAlive, receiveMaximum }),
        },
      }
    })
  const publish = fc
    .record({
      topic: text,
      payload: bytes,
      qos,
      retain: fc.boolean(),
      packetId: id,
      expirySeconds: five(seconds),
      contentType: five(text),
    })
    .chain(message => fc.boolean().map(dup => ({ ...message, dup: dup && message.qos === 1 })))
    .map(({ packetId, expirySeconds, contentType, ...message }): Pair => {
      const properties = given({ messageExpiryInterval: expirySeconds, contentType })
      return {
        sent: {
          cmd: 'publish',
          ...message,
          payload: Buffer.from(message.payload),
          ...(message.qos === 1 ? { messageId: packetId } : {}),
          ...(version === 5 ? { properties } : {}),
        },
        read: { kind: 'publish', ...message, ...(message.qos === 1 ? { packetId } : {}), ...given({ expirySeconds }) },
      }
    })
  const puback = fc.tuple(id, code).map(
    ([packetId, reasonCode]): Pair => ({
      sent: { cmd: 'puback', messageId: packetId, ...(version === 5 ? { reasonCode } : {}) },
      read: { kind: 'puback', packetId, code: reasonCode },
    }),
  )
  const suback = fc.tuple(id, fc.array(version === 4 ? codes4 : codes5, { minLength: 1, maxLength: 4 })).map(
    ([packetId, codes]): Pair => ({
      sent: { cmd: 'suback', messageId: packetId, granted: codes },
      read: { kind: 'suback', packetId, codes },
    }),
  )
  const rest = [
    fc.constant<Pair>({ sent: { cmd: 'pingresp' }, read: { kind: 'pingresp' } }),
    id.map(
      (packetId): Pair => ({
        sent: { cmd: 'unsuback', messageId: packetId, granted: version === 5 ? [0] : [] } as Packet,
        read: { kind: 'unsuback', packetId, codes: version === 5 ? [0] : [] },
      }),
    ),
    ...(version === 5
      ? [
          codes5.map(
            (reasonCode): Pair => ({
              sent: { cmd: 'disconnect', reasonCode },
              read: { kind: 'disconnect', code: reasonCode },
            }),
          ),
        ]
      : []),
  ]
  return fc.oneof(connack, publish, puback, suback, ...rest)
}

test.each([4, 5] as const)('what the reference writes is read here, in pieces of any length (version %i)', version => {
  fc.assert(
    fc.property(
      fc.array(incoming(version), { maxLength: 6 }),
      fc.array(fc.integer({ min: 1, max: 200 }), { minLength: 1, maxLength: 20 }),
      (pairs, cuts) => {
        const all = Buffer.concat(pairs.map(({ sent }) => generate(sent, { protocolVersion: version })))
        const reader = new PacketReader(version)
        const read: IncomingPacket[] = []
        for (let at = 0, turn = 0; at < all.length; turn++) {
          const end = at + cuts[turn % cuts.length]!
          read.push(...reader.read(all.subarray(at, end)))
          at = end
        }
        const plain = read.map(packet => ('payload' in packet ? { ...packet, payload: [...packet.payload] } : packet))
        expect(plain).toEqual(
          pairs.map(({ read: must }) => ('payload' in must ? { ...must, payload: [...must.payload] } : must)),
        )
      },
    ),
  )
})

test('bytes of any kind are packets or a fault, and nothing else', () => {
  fc.assert(
    fc.property(versions, fc.array(fc.uint8Array({ maxLength: 40 }), { maxLength: 5 }), (version, pieces) => {
      const reader = new PacketReader(version)
      try {
        for (const piece of pieces) reader.read(piece)
      } catch (error) {
        expect(error).toBeInstanceOf(PacketFault)
      }
    }),
    { numRuns: 500 },
  )
})

const publishBytes = (...body: number[]): Uint8Array => Uint8Array.of(0x32, body.length, ...body)
test.each([
  ['a length of five bytes', 4, Uint8Array.of(0x30, 0xff, 0xff, 0xff, 0xff, 1), /more than 4 bytes/],
  ['a topic longer than its packet', 4, publishBytes(0, 9, 0x61), /ends 8 bytes too soon/],
  ['QoS 2, which was not asked for', 4, Uint8Array.of(0x34, 5, 0, 1, 0x61, 0, 1), /QoS 2/],
  ['the packet id 0', 4, publishBytes(0, 1, 0x61, 0, 0), /packet id 0/],
  ['a packet that only a client sends', 4, Uint8Array.of(0x82, 0), /0x82, which no broker sends/],
  ['DISCONNECT of 3.1.1, which no broker sends', 4, Uint8Array.of(0xe0, 0), /0xe0/],
  ['a topic alias', 5, publishBytes(0, 1, 0x61, 0, 1, 3, 0x23, 0, 1), /topic alias/],
  ['an unknown property', 5, publishBytes(0, 1, 0x61, 0, 1, 1, 0x7f), /property 127/],
] as const)('%s is a fault', (_name, version, wrong, why) => {
  expect(() => new PacketReader(version).read(wrong)).toThrow(why)
})

test('a text that is too long for MQTT is refused with its length', () => {
  const topic = 'x'.repeat(65_536)
  expect(() => publishPacket(4, { topic, payload: new Uint8Array(0), qos: 0, retain: false })).toThrow(/got 65536/)
})
