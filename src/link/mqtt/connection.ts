import type { Heard } from '../../protocol/feed.ts'
import type { Dial, Socket } from '../socket.ts'
import { Acknowledgements } from './acknowledgements.ts'
import { type ConnectPacket, type IncomingPacket, PacketFault, type PublishPacket, type Version } from './packet.ts'
import { PacketReader } from './read-packet.ts'
import { Requests } from './requests.ts'
import {
  connectPacket,
  disconnectPacket,
  joined,
  pingreqPacket,
  pubackPacket,
  publishPacket,
  type SubscribeOptions,
  subscribePacket,
  unsubscribePacket,
} from './write-packet.ts'

/** How a connection ended. */
export interface Ended {
  /** CONNACK refused the client. */
  readonly refusedBy?: number
  /** MQTT 5: the broker said why it ends the connection. */
  readonly toldBy?: number
  /** What went wrong on this side or on the way. */
  readonly error?: Error
}

export interface ConnectionEvents {
  /** CONNACK: said before any message of the session is handed over. */
  live(sessionPresent: boolean): void
  /** A message is acknowledged when this has returned, or when the promise that it returns is fulfilled. */
  heard(message: Heard): void | Promise<void>
  /** Said once, and nothing after it. */
  ended(how: Ended): void
}

export interface ConnectionOptions extends ConnectPacket {
  readonly version: Version
  /** Longest time from dialling to the broker's answer. */
  readonly timeoutMilliseconds: number
}

/** One connection of an MQTT client, from CONNECT to its end: QoS 0 and 1, nothing kept beyond it. */
export class Connection {
  readonly #options: ConnectionOptions
  readonly #events: ConnectionEvents
  readonly #reader: PacketReader
  readonly #requests = new Requests()
  readonly #acknowledgements = new Acknowledgements(ids => this.#send(...ids.map(pubackPacket)))
  readonly #socket: Socket
  readonly #timeout: ReturnType<typeof setTimeout>
  #pulse: ReturnType<typeof setInterval> | undefined
  #out: Uint8Array[] = []
  #live = false
  #over = false
  #how: Ended = {}
  /** Half keep-alives since the broker was last heard, and whether this side sent anything in the present one. */
  #silentHalves = 0
  #sent = false
  #onEnd: () => void = () => {}

  /** @throws what `dial` throws */
  constructor(url: string, dial: Dial, options: ConnectionOptions, events: ConnectionEvents) {
    this.#options = options
    this.#events = events
    this.#reader = new PacketReader(options.version)
    const { timeoutMilliseconds, version } = options
    this.#socket = dial(
      url,
      {
        open: () => this.#send(connectPacket(version, options)),
        bytes: bytes => this.#read(bytes),
        closed: error => this.#finish(error),
      },
      timeoutMilliseconds,
    )
    this.#timeout = setTimeout(
      () => this.drop(new Error(`the broker gave no answer within ${timeoutMilliseconds / 1000} s`)),
      timeoutMilliseconds,
    )
  }

  get isLive(): boolean {
    return this.#live && !this.#over
  }

  /** Resolves with the broker's answer to each filter: the granted QoS, or 128 and above for a refusal. */
  async subscribe(filters: readonly string[], options: SubscribeOptions): Promise<readonly number[]> {
    return await this.#requests.ask(id => this.#send(subscribePacket(this.#options.version, id, filters, options)))
  }

  async unsubscribe(filters: readonly string[]): Promise<void> {
    await this.#requests.ask(id => this.#send(unsubscribePacket(this.#options.version, id, filters)))
  }

  /**
   * Resolves with the broker's reason code (QoS 1), or with 0 when the packet was handed over (QoS 0).
   * A broker of MQTT 5 may limit how many wait for their answer: the others wait here.
   */
  async publish(publish: Omit<PublishPacket, 'dup' | 'packetId'>): Promise<number> {
    const { version } = this.#options
    if (this.#over) throw new Error('the link is down')
    if (publish.qos === 0) {
      this.#send(publishPacket(version, publish))
      return 0
    }
    const [code = 0] = await this.#requests.publish(packetId =>
      this.#send(publishPacket(version, { ...publish, packetId })),
    )
    return code
  }

  /** Ends politely, when every message that was sent has its answer. Resolves when the connection is over. */
  async end(): Promise<void> {
    if (this.#over) return
    await this.#requests.settled()
    if (this.#over) return
    const over = new Promise<void>(done => {
      this.#onEnd = done
    })
    if (this.#live) this.#send(disconnectPacket())
    this.#flush()
    this.#socket.end()
    await over
  }

  /** Breaks off at once: the broker publishes the will, and keeps what was not acknowledged. */
  drop(error?: Error): void {
    if (this.#over) return
    this.#socket.destroy()
    this.#finish(error)
  }

  #send(...packets: readonly Uint8Array[]): void {
    if (this.#over) return
    // What is sent in one turn leaves together: one frame of a WebSocket, not one for each packet.
    if (this.#out.length === 0) queueMicrotask(() => this.#flush())
    this.#out.push(...packets)
    this.#sent = true
  }

  #flush(): void {
    if (this.#over || this.#out.length === 0) return
    this.#socket.send(joined(this.#out.splice(0)))
  }

  #read(bytes: Uint8Array): void {
    if (this.#over) return
    this.#silentHalves = 0
    try {
      for (const packet of this.#reader.read(bytes)) {
        this.#take(packet)
        if (this.#over) return
      }
    } catch (error) {
      if (!(error instanceof PacketFault)) throw error
      this.drop(new Error(`the broker sent what MQTT does not allow: ${error.message}`))
    }
  }

  #take(packet: IncomingPacket): void {
    if ((packet.kind === 'connack') === this.#live) throw new PacketFault(`${packet.kind} comes out of its turn`)
    switch (packet.kind) {
      case 'connack':
        this.#answer(packet)
        break
      case 'publish':
        this.#hear(packet)
        break
      case 'puback':
        this.#requests.answer(packet.packetId, [packet.code])
        break
      case 'suback':
      case 'unsuback':
        this.#requests.answer(packet.packetId, packet.codes)
        break
      case 'disconnect':
        this.#how = { toldBy: packet.code }
        this.drop()
    }
  }

  #answer({ code, sessionPresent, ...asked }: IncomingPacket & { kind: 'connack' }): void {
    clearTimeout(this.#timeout)
    if (code !== 0) {
      this.#how = { refusedBy: code }
      this.drop()
      return
    }
    this.#live = true
    this.#requests.mostPublishes = asked.receiveMaximum ?? this.#requests.mostPublishes
    const seconds = asked.keepAliveSeconds ?? this.#options.keepAliveSeconds
    if (seconds > 0) this.#pulse = setInterval(() => this.#halfPassed(seconds), seconds * 500)
    this.#events.live(sessionPresent)
  }

  #hear({ kind: _, ...message }: IncomingPacket & { kind: 'publish' }): void {
    const kept = this.#events.heard(message)
    if (message.packetId !== undefined) this.#acknowledgements.expect(message.packetId, kept)
    else kept?.catch(() => {})
  }

  /** Something is sent in each keep-alive; a broker that sends nothing for one and a half is given up. */
  #halfPassed(seconds: number): void {
    if (this.#silentHalves >= 3) {
      this.drop(new Error(`the broker was silent for ${1.5 * seconds} s, and did not answer a ping`))
      return
    }
    if (!this.#sent || this.#silentHalves > 0) this.#send(pingreqPacket())
    this.#silentHalves++
    this.#sent = false
  }

  #finish(error: Error | undefined): void {
    if (this.#over) return
    this.#over = true
    clearTimeout(this.#timeout)
    clearInterval(this.#pulse)
    this.#requests.fail(new Error('the link went down'))
    this.#onEnd()
    // Said when the caller has gone on: what ends a connection may be in the midst of reading from it.
    queueMicrotask(() => this.#events.ended({ ...this.#how, ...(error ? { error } : {}) }))
  }
}
