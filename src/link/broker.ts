import { createServer as createHttpServer, type IncomingMessage, type ServerResponse } from 'node:http'
import { createServer as createHttpsServer } from 'node:https'
import { createServer, type Socket } from 'node:net'
import { createServer as createTlsServer } from 'node:tls'
import { Aedes, type AuthenticateError } from 'aedes'
import { createWebSocketStream, WebSocketServer } from 'ws'
import { listen, stop } from './listen.ts'
import { Joined } from './node/joined.ts'
import { isOwnOrigin } from './own-host.ts'

export interface BrokerOptions {
  /** Address to listen on; default 127.0.0.1. */
  readonly host?: string
  /** Port of plain MQTT and of MQTT over WebSockets; 0 (default) takes any free one. */
  readonly mqttPort?: number
  readonly websocketPort?: number
  /** Certificate and key, PEM text: both ports speak TLS only. */
  readonly tls?: { readonly cert: string; readonly key: string }
  /** Host names of pages that may open a WebSocket, beside pages of this machine and of the host that they ask. */
  readonly names?: readonly string[]
  /** Whether this account may come in; absent: everyone. */
  readonly authenticate?: (user: string | undefined, password: string | undefined, clientId: string) => boolean
  /** Whether this account may publish to, or read, this topic or filter; absent: everyone. */
  readonly authorize?: (act: 'publish' | 'subscribe', topic: string, user: string | undefined) => boolean
}

/** A broker inside this process: MQTT 3.1.1, nothing kept on disk. */
export interface Broker {
  readonly mqttUrl: string
  readonly websocketUrl: string
  readonly mqttPort: number
  readonly websocketPort: number
  /** Puts every client off and frees both ports. */
  close(): Promise<void>
}

/** A client may take this long to log in, and send this much before: what it announces is not waited for in memory. */
const LOGIN_MILLISECONDS = 10_000
const LOGIN_BYTES = 8_192
/** Largest message of a WebSocket, bytes. */
const LARGEST_BYTES = 1 << 20

/**
 * @throws Error of the operating system, with `code` and `port`, when a port cannot be had
 */
export async function startBroker(options: BrokerOptions = {}): Promise<Broker> {
  const { host = '127.0.0.1', names, authenticate, authorize } = options
  const users = new WeakMap<object, string>()
  const may = (act: 'publish' | 'subscribe', topic: string, client: object | null) =>
    authorize?.(act, topic, client ? users.get(client) : undefined) ?? true
  const aedes = await Aedes.createBroker({
    connectTimeout: LOGIN_MILLISECONDS,
    authenticate(client, user, password, done) {
      if (user !== undefined) users.set(client, user)
      if (authenticate?.(user, password?.toString(), client.id) ?? true) return done(null, true)
      done(Object.assign(new Error('bad user name or password'), { returnCode: 4 }) as AuthenticateError, null)
    },
    authorizePublish(client, packet, done) {
      done(may('publish', packet.topic, client) ? null : new Error(`not allowed to publish to ${packet.topic}`))
    },
    authorizeSubscribe(client, subscription, done) {
      done(null, may('subscribe', subscription.topic, client) ? subscription : null)
    },
  })
  const within = new WeakSet<object>()
  aedes.on('clientReady', client => void within.add(client.conn))
  const { tls } = options
  const greet = (socket: Socket): void => {
    socket.on('readable', () => {
      if (!within.has(socket) && socket.bytesRead > LOGIN_BYTES) socket.destroy()
    })
    aedes.handle(socket)
  }
  const plain = tls ? createTlsServer({ ...tls, noDelay: true }, greet) : createServer({ noDelay: true }, greet)
  const refuse = (_request: IncomingMessage, response: ServerResponse) => void response.writeHead(426).end()
  const http = tls ? createHttpsServer(tls, refuse) : createHttpServer(refuse)
  http.headersTimeout = LOGIN_MILLISECONDS
  const sockets = new WebSocketServer({
    server: http,
    maxPayload: LARGEST_BYTES,
    verifyClient: ({ req: { headers } }: { req: IncomingMessage }) => isOwnOrigin(headers.origin, headers.host, names),
    perMessageDeflate: false,
    handleProtocols: offered => (offered.has('mqtt') ? 'mqtt' : false),
  })
  // What the server below reports is reported here a second time.
  sockets.on('error', () => {})
  sockets.on('connection', (socket, request) => {
    const stream = new Joined(createWebSocketStream(socket))
    stream.on('error', () => {})
    const { socket: wire } = request
    const before = wire.bytesRead
    wire.on('data', () => {
      if (!within.has(stream) && wire.bytesRead - before > LOGIN_BYTES) wire.destroy()
    })
    aedes.handle(stream, request)
  })
  const close = async () => {
    await new Promise<void>(done => aedes.close(done))
    for (const socket of sockets.clients) socket.terminate()
    sockets.close()
    http.closeAllConnections()
    await Promise.all([stop(plain), stop(http)])
  }
  try {
    const mqttPort = await listen(plain, options.mqttPort ?? 0, host)
    const websocketPort = await listen(http, options.websocketPort ?? 0, host)
    const name = host.includes(':') ? `[${host}]` : host
    return {
      mqttUrl: `mqtt${tls ? 's' : ''}://${name}:${mqttPort}`,
      websocketUrl: `ws${tls ? 's' : ''}://${name}:${websocketPort}`,
      mqttPort,
      websocketPort,
      close,
    }
  } catch (error) {
    await close()
    throw error
  }
}
