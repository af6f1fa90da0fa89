import { joined, variableAt } from '../mqtt/bytes.ts'

/**
 * Acknowledgements that the broker may have unread. A broker that keeps its store safe saves it for each of them, and
 * reads one packet a turn: mosquitto 2.0.11 hands a resumed session all that waited at once, whatever the client's receive
 * maximum, and at 25 ms a save it answers a ping behind 1,500 acknowledgements after 38 s, when the link is given up.
 */
const MOST_UNREAD = 100

/**
 * Holds outgoing PUBACK packets until what they acknowledge has been kept. The gate stands between an MQTT client
 * and its socket and reads nothing but packet boundaries, so the client goes on receiving meanwhile.
 * Acknowledgements leave in the order of their messages (MQTT-4.6.0-2), some at a time: the answer to a ping behind
 * them says that the broker has read them (MQTT-3.12.4-1). Every other packet passes at once.
 */
export class AckGate {
  /** Ids of messages whose PUBACK must wait, and whether it has been let go. */
  readonly #held = new Map<number, { kept: boolean }>()
  /** PUBACKs that the client has written, oldest first. */
  readonly #waiting: { readonly bytes: Uint8Array; readonly hold: { kept: boolean } | undefined }[] = []
  #rest: Uint8Array = new Uint8Array(0)
  /** Acknowledgements that left behind the gate's last ping. */
  #unread = 0
  /** Pings that the broker has not answered, and how many of them up to the gate's own; 0: it does not wait for one. */
  #pings = 0
  #pingsToOwn = 0
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
      this.#letOut()
    }
  }

  /** The broker has answered a ping (PINGRESP). */
  answered(): void {
    this.#pings = Math.max(0, this.#pings - 1)
    if (this.#pingsToOwn > 0 && --this.#pingsToOwn === 0) this.#letOut()
  }

  /** Takes bytes that the client wrote; answers those that may leave now. */
  pass(bytes: Uint8Array): Uint8Array {
    const all = this.#rest.length ? joined([this.#rest, bytes]) : bytes
    const out: Uint8Array[] = []
    let at = 0
    for (let end = packetEnd(all, at); end !== undefined; end = packetEnd(all, at)) {
      const packet = all.subarray(at, end)
      at = end
      const kind = packet[0]! >> 4
      if (kind === PINGREQ) this.#pings++
      if (kind === PUBACK) {
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

  #letOut(): void {
    const ready = this.#ready()
    if (ready.length) this.#send(joined(ready))
  }

  #ready(): Uint8Array[] {
    const ready: Uint8Array[] = []
    for (let first = this.#waiting[0]; first && first.hold?.kept !== false; first = this.#waiting[0]) {
      if (this.#pingsToOwn > 0) break
      ready.push(first.bytes)
      this.#waiting.shift()
      if (++this.#unread < MOST_UNREAD) continue
      this.#unread = 0
      this.#pingsToOwn = ++this.#pings
      ready.push(PING)
    }
    return ready
  }
}

const PUBACK = 4
const PINGREQ = 12
const PING = new Uint8Array([PINGREQ << 4, 0])

/** Where the packet that starts at `at` ends; undefined while it is not whole. */
function packetEnd(bytes: Uint8Array, at: number): number | undefined {
  const head = variableAt(bytes, at + 1)
  const end = head && head.end + head.value
  return end !== undefined && end <= bytes.length ? end : undefined
}
