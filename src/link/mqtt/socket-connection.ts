import type { Connect, Connection, ConnectionEvents, ConnectionOptions, Ended, Publication } from '../connection.ts'
import { answeredNothing, keptSilent } from '../refusals.ts'
import { Acknowledgements } from './acknowledgements.ts'
import { joined } from './bytes.ts'
import { type IncomingPacket, PacketFault, type SubscribeOptions } from './packet.ts'
import { PacketReader } from './read-packet.ts'
import { Requests } from './requests.ts'
import type { Dial, Socket } from './socket.ts'
import {
  connectPacket,
  disconnectPacket,
  pingreqPacket,
  pubackPacket,
  publishPacket,
  subscribePacket,
  unsubscribePacket,
} from './write-packet.ts'

/** Connects over what `dial` opens. */
export const connectOver =
  (dial: Dial): Connect =>
  (url, options, events) =>
    new SocketConnection(url, dial, options, events)

/** A connection on this folder's own packets, QoS 0 and 1. */
export class SocketConnection implements Connection {
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
    this.#timeout = setTimeout(() => this.drop(new Error(answeredNothing(timeoutMilliseconds))), timeoutMilliseconds)
  }

  get isLive(): boolean {
    return this.#live && !this.#over
  }

  async subscribe(filters: readonly string[], options: SubscribeOptions): Promise<readonly number[]> {
    return await this.#requests.ask(id => this.#send(subscribePacket(this.#options.version, id, filters, options)))
  }

  async unsubscribe(filters: readonly string[]): Promise<void> {
    await this.#requests.ask(id => this.#send(unsubscribePacket(this.#options.version, id, filters)))
  }

  /** A broker of MQTT 5 may limit how many messages wait for their answer: the others wait here. */
  async publish(publish: Publication): Promise<number> {
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
      this.drop(new Error(keptSilent(seconds)))
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
