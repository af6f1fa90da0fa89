import { PacketFault } from './packet.ts'

export function joined(parts: readonly Uint8Array[]): Uint8Array {
  if (parts.length === 1) return parts[0]!
  const all = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0))
  let at = 0
  for (const part of parts) {
    all.set(part, at)
    at += part.length
  }
  return all
}

/**
 * The variable byte integer at `at` and where it ends, undefined until its last byte is there: section 2.2.3 of MQTT
 * 3.1.1, 1.5.5 of MQTT 5.0. The second byte of a packet begins one: the length of its body.
 * @throws PacketFault for one of more than 4 bytes
 */
export function variableAt(bytes: Uint8Array, at: number): { value: number; end: number } | undefined {
  let value = 0
  for (let index = 0; index < 4; index++) {
    const byte = bytes[at + index]
    if (byte === undefined) return undefined
    value += (byte & 127) * 128 ** index
    if (byte < 128) return { value, end: at + index + 1 }
  }
  throw new PacketFault('a length takes more than 4 bytes')
}
