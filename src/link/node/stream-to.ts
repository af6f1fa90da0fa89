import { connect as tcp } from 'node:net'
import type { Duplex } from 'node:stream'
import { connect as tls } from 'node:tls'
import { createWebSocketStream, WebSocket } from 'ws'

/** TLS material for `mqtts:` and `wss:` in Node; a browser uses its own. PEM text. */
export interface TlsOptions {
  readonly ca?: string
  readonly cert?: string
  readonly key?: string
  /** Name in the broker's certificate, where it is not the host of the address. */
  readonly servername?: string
  /** `mqtts:` only: replaces the check of the certificate's name, for a broker that is trusted by its certificate alone. */
  readonly checkServerIdentity?: () => undefined
}

const DEFAULT_PORTS: Readonly<Record<string, number>> = { 'mqtt:': 1883, 'mqtts:': 8883 }

/** Opens a stream to an `mqtt:`, `mqtts:`, `ws:` or `wss:` address. */
export function streamTo(url: URL, options: TlsOptions, timeoutMilliseconds: number): Duplex {
  const host = url.hostname.replace(/^\[|\]$/g, '')
  const port = Number(url.port) || DEFAULT_PORTS[url.protocol]!
  switch (url.protocol) {
    case 'mqtt:':
      return tcp({ host, port, noDelay: true })
    case 'mqtts:':
      return tls({ host, port, ...(/^[\d.]+$|:/.test(host) ? {} : { servername: host }), ...options })
    default: {
      const { checkServerIdentity: _, ...tlsOptions } = options
      return createWebSocketStream(
        new WebSocket(url, ['mqtt'], { ...tlsOptions, handshakeTimeout: timeoutMilliseconds }),
      )
    }
  }
}
