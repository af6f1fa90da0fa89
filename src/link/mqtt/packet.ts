/** Control packets of MQTT 3.1.1 (4) and MQTT 5.0 (5), as far as a client of QoS 0 and 1 sends and gets them. */

export type Version = 4 | 5

/** Types of packets and the flags that each must carry: MQTT 3.1.1 and MQTT 5.0, sections 2.2.1 and 2.2.2. */
export const PACKET = {
  connect: 0x10,
  connack: 0x20,
  publish: 0x30,
  puback: 0x40,
  subscribe: 0x82,
  suback: 0x90,
  unsubscribe: 0xa2,
  unsuback: 0xb0,
  pingreq: 0xc0,
  pingresp: 0xd0,
  disconnect: 0xe0,
} as const

/** Properties that are written or read: MQTT 5.0, section 2.2.2.2. */
export const PROPERTY = {
  messageExpiryInterval: 0x02,
  sessionExpiryInterval: 0x11,
  serverKeepAlive: 0x13,
  receiveMaximum: 0x21,
  topicAlias: 0x23,
} as const

export interface ConnectPacket {
  readonly clientId: string
  readonly clean: boolean
  readonly keepAliveSeconds: number
  readonly username?: string
  readonly password?: string
  readonly will?: { readonly topic: string; readonly payload: string; readonly qos: 0 | 1; readonly retain: boolean }
  /** MQTT 5 only, as `sessionExpirySeconds`. */
  readonly receiveMaximum?: number
  readonly sessionExpirySeconds?: number
}

export interface PublishPacket {
  readonly topic: string
  readonly payload: Uint8Array
  readonly qos: 0 | 1
  readonly retain: boolean
  readonly dup: boolean
  /** With QoS 1. */
  readonly packetId?: number
  /** MQTT 5 only. */
  readonly expirySeconds?: number
}

export interface SubscribeOptions {
  readonly qos: 0 | 1
  /** MQTT 5: the publisher's retain flag is kept on live messages. */
  readonly retainAsPublished: boolean
}

/** What a broker sends; `code` is a return code of 3.1.1 or a reason code of 5. */
export type IncomingPacket =
  | {
      readonly kind: 'connack'
      readonly code: number
      readonly sessionPresent: boolean
      readonly keepAliveSeconds?: number
      readonly receiveMaximum?: number
    }
  | ({ readonly kind: 'publish' } & PublishPacket)
  | { readonly kind: 'puback'; readonly packetId: number; readonly code: number }
  | { readonly kind: 'suback' | 'unsuback'; readonly packetId: number; readonly codes: readonly number[] }
  | { readonly kind: 'pingresp' }
  | { readonly kind: 'disconnect'; readonly code: number }

/** Bytes that are no packet which a broker may send to this client. */
export class PacketFault extends Error {
  override readonly name = 'PacketFault'
}
