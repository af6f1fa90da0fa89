import { joined, variableAt } from '../mqtt/bytes.ts'

/**
 * Holds outgoing PUBACK packets until what they acknowledge has been kept. The gate stands between an MQTT client
 * and its socket and reads nothing but packet boundaries, so the client goes on receiving meanwhile.
 * Acknowledgements leave in the order of their messages (MQTT-4.6.0-2); every other packet passes at once.
 */
export class AckGate {
  /** Ids of messages whose PUBACK must wait, and whether it has been let go. */
  readonly #held = new Map<number, { kept: boolean }>()
  /** PUBACKs that the client has written, oldest first. */
  readonly #waiting: { readonly bytes: Uint8Array; readonly hold: { kept: boolean } | undefined }[] = []
  #rest: Uint8Array = new Uint8Array(0)
  #send: (bytes: Uint8Array) => void = () => {}

  /** Where acknowledgements go that are let out later. */
  connect(send: (bytes: Uint8Array) => void): void {
    this.#send = send
  }

  /** Holds the PUBACK of this packet id; call before the client writes it. The answer lets it go. */
  hold(packetId: number): () => void {
    const hold = { kept: false }
    this.#held.set(packetId, hold)
    return () => {
      hold.kept = true
      const ready = this.#ready()
      if (ready.length) this.#send(joined(ready))
    }
  }

  /** Takes bytes that the client wrote; answers those that may leave now. */
  pass(bytes: Uint8Array): Uint8Array {
    if (this.#held.size === 0 && this.#waiting.length === 0 && this.#rest.length === 0 && isWhole(bytes)) return bytes
    const all = this.#rest.length ? joined([this.#rest, bytes]) : bytes
    const out: Uint8Array[] = []
    let at = 0
    for (let end = packetEnd(all, at); end !== undefined; end = packetEnd(all, at)) {
      const packet = all.subarray(at, end)
      at = end
      if (packet[0]! >> 4 === PUBACK) {
        const start = variableAt(packet, 1)!.end
        const id = packet[start]! * 256 + packet[start + 1]!
        this.#waiting.push({ bytes: packet, hold: this.#held.get(id) })
        this.#held.delete(id)
        out.push(...this.#ready())
      } else out.push(packet)
    }
    this.#rest = all.slice(at)
    return joined(out)
  }

  #ready(): Uint8Array[] {
    const ready: Uint8Array[] = []
    for (let first = this.#waiting[0]; first && first.hold?.kept !== false; first = this.#waiting[0]) {
      ready.push(first.bytes)
      this.#waiting.shift()
    }
    return ready
  }
}

const PUBACK = 4

/** Where the packet that starts at `at` ends; undefined while it is not whole. */
function packetEnd(bytes: Uint8Array, at: number): number | undefined {
  const head = variableAt(bytes, at + 1)
  const end = head && head.end + head.value
  return end !== undefined && end <= bytes.length ? end : undefined
}

function isWhole(bytes: Uint8Array): boolean {
  let at = 0
  for (let end = packetEnd(bytes, at); end !== undefined; end = packetEnd(bytes, at)) at = end
  return at === bytes.length
}
