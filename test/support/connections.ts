import { type Socket as TcpSocket, connect as tcp } from 'node:net'
import { type TLSSocket, connect as tls } from 'node:tls'
import { WebSocket } from 'ws'
import type { Connect } from '../../src/link/connection.ts'
import { overWebSocket } from '../../src/link/mqtt/over-web-socket.ts'
import type { Dial, Socket, SocketEvents } from '../../src/link/mqtt/socket.ts'
import { connectOver } from '../../src/link/mqtt/socket-connection.ts'
import { connectNode } from '../../src/link/node/package-connection.ts'
import type { TlsOptions } from '../../src/link/node/stream-to.ts'

/** Dials from Node for the connection of the card, which in a browser has WebSockets only. */
const dialFromNode =
  (options: TlsOptions): Dial =>
  (address, events, timeoutMilliseconds) => {
    const url = new URL(address)
    const [host, port] = [url.hostname, Number(url.port)]
    if (url.protocol === 'mqtt:') return overTcp(tcp({ host, port, noDelay: true }), 'connect', events)
    if (url.protocol === 'mqtts:') return overTcp(tls({ host, port, ...options }), 'secureConnect', events)
    const { checkServerIdentity: _, ...tlsOptions } = options
    return overWebSocket(
      new WebSocket(url, ['mqtt'], { ...tlsOptions, handshakeTimeout: timeoutMilliseconds }) as never,
      events,
    )
  }

function overTcp(socket: TcpSocket | TLSSocket, opened: 'connect' | 'secureConnect', events: SocketEvents): Socket {
  let error: Error | undefined
  socket.on(opened, () => events.open())
  socket.on('data', bytes => events.bytes(bytes))
  socket.on('error', problem => {
    error = problem
  })
  socket.on('close', () => events.closed(error))
  return {
    send: bytes => void socket.write(bytes),
    end: () => void socket.end(),
    destroy: () => void socket.destroy(),
  }
}

/** Every connection that a feed can stand on: what holds of one must hold of all. */
export const CONNECTIONS: readonly { readonly name: string; connect(tls?: TlsOptions): Connect }[] = [
  { name: 'the package’s', connect: connectNode },
  { name: 'the card’s own', connect: (tls = {}) => connectOver(dialFromNode(tls)) },
]
