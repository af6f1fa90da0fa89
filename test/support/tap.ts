import { connect, createServer, type Server, type Socket } from 'node:net'
import { type Packet, parser } from 'mqtt-packet'
import { pause } from './until.ts'

/** One connection of a client through the tap: what it sent, as another implementation of MQTT reads it. */
export interface Tapped {
  readonly packets: readonly Packet[]
  /** Ends it on the client's side, as a network that is gone does. */
  cut(): void
  readonly isOpen: boolean
}

export interface TapOptions {
  /** Asked for each packet of the client before the broker is given it; what it answers is waited for. */
  readonly onPacket?: (packet: Packet, connection: number) => Promise<void> | void
  /** Milliseconds by which the broker's answers to a connection (from 0) are held back after its CONNACK. */
  readonly late?: (connection: number) => number
  /** MQTT version of the clients; default 4, which is 3.1.1. */
  readonly version?: 4 | 5
}

/** Stands between a client and the broker, and notes each packet. */
export class Tap {
  readonly #server: Server
  readonly connections: Tapped[] = []
  readonly #sockets = new Set<Socket>()

  private constructor(server: Server) {
    this.#server = server
  }

  static async before(brokerPort: number, { onPacket, late, version = 4 }: TapOptions = {}): Promise<Tap> {
    const server = createServer({ noDelay: true })
    const tap = new Tap(server)
    server.on('connection', client => {
      const number = tap.connections.length
      const packets: Packet[] = []
      const broker = connect({ port: brokerPort, host: '127.0.0.1', noDelay: true })
      const read = parser({ protocolVersion: version })
      let answers = 0
      let there = Promise.resolve()
      let back = Promise.resolve()
      const end = () => {
        client.destroy()
        broker.destroy()
      }
      read.on('packet', packet => packets.push(packet))
      tap.connections.push({
        packets,
        cut: end,
        get isOpen() {
          return !client.destroyed
        },
      })
      for (const socket of [client, broker]) {
        tap.#sockets.add(socket)
        socket.on('error', () => {})
      }
      client.on('close', end)
      // What the broker said last is still handed over.
      broker.on('close', () => {
        back = back.then(() => void client.end())
      })
      client.on('data', (bytes: Buffer) => {
        const before = packets.length
        read.parse(bytes)
        there = there.then(async () => {
          for (const packet of packets.slice(before)) await onPacket?.(packet, number)
          if (!broker.destroyed) broker.write(bytes)
        })
      })
      broker.on('data', (bytes: Buffer) => {
        const wait = answers++ === 0 ? 0 : (late?.(number) ?? 0)
        back = back.then(async () => {
          if (wait > 0) await pause(wait)
          if (!client.destroyed) client.write(bytes)
        })
      })
    })
    await new Promise<void>(done => server.listen(0, '127.0.0.1', done))
    return tap
  }

  get port(): number {
    const address = this.#server.address()
    return typeof address === 'object' && address ? address.port : 0
  }

  async close(): Promise<void> {
    for (const socket of this.#sockets) socket.destroy()
    await new Promise(done => this.#server.close(done))
  }
}
