import { type Socket as TcpSocket, connect as tcp } from 'node:net'
import { type TLSSocket, connect as tls } from 'node:tls'
import { WebSocket } from 'ws'
import { overWebSocket } from './over-web-socket.ts'
import type { Dial, Socket, SocketEvents } from './socket.ts'

/** TLS material for `mqtts:` and `wss:`. PEM text. */
export interface TlsOptions {
  readonly ca?: string
  readonly cert?: string
  readonly key?: string
  /** Name in the broker's certificate, where it is not the host of the address. */
  readonly servername?: string
  /** `mqtts:` only: replaces the check of the certificate's name, for a broker that is trusted by its certificate alone. */
  readonly checkServerIdentity?: () => undefined
}

/** Dials `mqtt:`, `mqtts:`, `ws:` and `wss:` addresses from Node. */
export function dialNode(options: TlsOptions = {}): Dial {
  return (address, events, timeoutMilliseconds) => {
    const url = new URL(address)
    const host = url.hostname.replace(/^\[|\]$/g, '')
    switch (url.protocol) {
      case 'mqtt:':
        return overTcp(tcp({ host, port: Number(url.port) || 1883, noDelay: true }), 'connect', events)
      case 'mqtts:': {
        const named = /^[\d.]+$|:/.test(host) ? {} : { servername: host }
        return overTcp(tls({ host, port: Number(url.port) || 8883, ...named, ...options }), 'secureConnect', events)
      }
      default: {
        const { checkServerIdentity: _, ...tlsOptions } = options
        return overWebSocket(
          new WebSocket(url, ['mqtt'], { ...tlsOptions, handshakeTimeout: timeoutMilliseconds }) as never,
          events,
        )
      }
    }
  }
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
