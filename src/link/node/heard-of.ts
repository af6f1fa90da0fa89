import type { IPublishPacket } from 'mqtt'
import type { Heard } from '../../protocol/feed.ts'

/** A message as the package's client hands it over. */
export function heardOf(topic: string, payload: Uint8Array, packet: IPublishPacket): Heard {
  const expiry = packet.properties?.messageExpiryInterval
  return {
    topic,
    payload,
    retain: packet.retain,
    dup: packet.dup,
    qos: packet.qos,
    ...(packet.qos > 0 && packet.messageId !== undefined ? { packetId: packet.messageId } : {}),
    ...(expiry === undefined ? {} : { expirySeconds: expiry }),
  }
}
