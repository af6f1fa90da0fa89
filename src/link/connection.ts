import type { Heard } from '../protocol/feed.ts'
import type { ConnectPacket, PublishPacket, SubscribeOptions, Version } from './mqtt/packet.ts'

export interface ConnectionOptions extends ConnectPacket {
  readonly version: Version
  /** Longest time from dialling to the broker's answer. */
  readonly timeoutMilliseconds: number
}

/** How a connection ended. */
export interface Ended {
  /** CONNACK refused the client. */
  readonly refusedBy?: number
  /** MQTT 5: the broker said why it ends the connection. */
  readonly toldBy?: number
  /** What went wrong on this side or on the way. */
  readonly error?: Error
  /** Nothing listens at any address of this host and port: its system says so. */
  readonly nobodyListens?: true
}

export interface ConnectionEvents {
  /** CONNACK: said before any message of the session is handed over. */
  live(sessionPresent: boolean): void
  /** A message is acknowledged when this has returned, or when the promise that it returns is fulfilled. */
  heard(message: Heard): void | Promise<void>
  /** Said once, and nothing after it. */
  ended(how: Ended): void
}

export type Publication = Omit<PublishPacket, 'dup' | 'packetId'>

/** One connection of an MQTT client, from CONNECT to its end; nothing is kept beyond it. */
export interface Connection {
  readonly isLive: boolean
  /** Resolves with the broker's answer to each filter: the granted QoS, or 128 and above for a refusal. */
  subscribe(filters: readonly string[], options: SubscribeOptions): Promise<readonly number[]>
  unsubscribe(filters: readonly string[]): Promise<void>
  /** Resolves with the broker's reason code (QoS 1), or with 0 when the packet was handed over (QoS 0). */
  publish(publication: Publication): Promise<number>
  /** Ends politely, when every message that was sent has its answer. Resolves when the connection is over. */
  end(): Promise<void>
  /** Breaks off at once: the broker publishes the will, and keeps what was not acknowledged. */
  drop(error?: Error): void
}

/**
 * Begins to connect. Events come later, never before this returns.
 * May throw: the message is shown to the person, and no further attempt is made.
 */
export type Connect = (url: string, options: ConnectionOptions, events: ConnectionEvents) => Connection
