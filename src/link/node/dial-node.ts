import { connect as tcp } from 'node:net'
import type { Duplex } from 'node:stream'
import { connect as tls } from 'node:tls'
import mqtt from 'mqtt'
import { createWebSocketStream, WebSocket } from 'ws'
import type { Dial, TlsOptions } from './dial.ts'
import { Joined } from './joined.ts'

const DEFAULT_PORTS: Readonly<Record<string, number>> = { 'mqtt:': 1883, 'mqtts:': 8883 }

function socketTo(url: URL, options: TlsOptions, timeoutMilliseconds: number): Duplex {
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

/** Dials `mqtt:`, `mqtts:`, `ws:` and `wss:` addresses from Node. */
export function dialNode(options: TlsOptions = {}): Dial {
  return (url, clientOptions, gate) =>
    new mqtt.MqttClient(() => {
      const inner = socketTo(new URL(url), options, clientOptions.connectTimeout ?? 30_000)
      const stream = new Joined(inner, bytes => gate.pass(bytes))
      gate.connect(bytes => stream.inject(bytes))
      return stream
    }, clientOptions)
}
