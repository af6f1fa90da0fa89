import mqtt, { type IClientPublishOptions, type Packet } from 'mqtt'
import type { Heard } from '../../protocol/feed.ts'
import type { Connect, Connection, ConnectionEvents, ConnectionOptions, Ended, Publication } from '../connection.ts'
import type { SubscribeOptions } from '../mqtt/packet.ts'
import { answeredNothing, keptSilent } from '../refusals.ts'
import { AckGate } from './ack-gate.ts'
import { clientOptionsOf } from './client-options.ts'
import { heardOf } from './heard-of.ts'
import { Joined } from './joined.ts'
import { streamTo, type TlsOptions } from './stream-to.ts'

/** Connects to `mqtt:`, `mqtts:`, `ws:` and `wss:` addresses from Node. */
export const connectNode =
  (tls: TlsOptions = {}): Connect =>
  (url, options, events) =>
    new PackageConnection(url, tls, options, events)

/** A connection on the client of the package `mqtt`; a gate holds back the acknowledgements that it writes. */
class PackageConnection implements Connection {
  readonly #options: ConnectionOptions
  readonly #events: ConnectionEvents
  readonly #gate = new AckGate()
  readonly #client: mqtt.MqttClient
  /** The client takes packets to send from here on: a moment later than CONNACK. */
  readonly #ready: Promise<void>
  /** What waits for the broker's answer: the client itself tells nobody when the link goes down. */
  readonly #waiting = new Set<(error: Error) => void>()
  #live = false
  #over = false
  #how: Ended = {}
  #onEnd: () => void = () => {}

  /** @throws Error when the address cannot be dialled */
  constructor(url: string, tls: TlsOptions, options: ConnectionOptions, events: ConnectionEvents) {
    this.#options = options
    this.#events = events
    const gate = this.#gate
    const client = new mqtt.MqttClient(() => {
      const inner = streamTo(new URL(url), tls, options.timeoutMilliseconds)
      const stream = new Joined(inner, bytes => gate.pass(bytes))
      gate.connect(bytes => stream.inject(bytes))
      return stream
    }, clientOptionsOf(options))
    this.#client = client
    this.#ready = new Promise(done => client.once('connect', () => done()))
    client.on('packetreceive', packet => this.#take(packet))
    client.on('message', (topic, payload, packet) => this.#hear(heardOf(topic, payload, packet)))
    client.on('error', error => {
      const nobodyListens = hasNoListener(error) ? { nobodyListens: true as const } : {}
      this.#how = { error: new Error(this.#sentenceOf(error)), ...nobodyListens, ...this.#how }
    })
    client.on('close', () => this.#finish())
  }

  get isLive(): boolean {
    return this.#live && !this.#over
  }

  subscribe(filters: readonly string[], { qos, retainAsPublished }: SubscribeOptions): Promise<readonly number[]> {
    const more = this.#options.version === 5 ? { rap: retainAsPublished } : {}
    return this.#ask((done, failed) =>
      this.#client.subscribe([...filters], { qos, ...more }, (error, _granted, packet) => {
        // The client takes a refused filter for an error of the whole request.
        if (packet) done(packet.granted.map(Number))
        else failed(error ?? new Error('the client sent no request'))
      }),
    )
  }

  unsubscribe(filters: readonly string[]): Promise<void> {
    return this.#ask((done, failed) =>
      this.#client.unsubscribe([...filters], error => (error ? failed(error) : done(undefined))),
    )
  }

  publish({ topic, payload, qos, retain, expirySeconds }: Publication): Promise<number> {
    const options: IClientPublishOptions = {
      qos,
      retain,
      ...(expirySeconds === undefined ? {} : { properties: { messageExpiryInterval: expirySeconds } }),
    }
    const bytes = Buffer.from(payload.buffer, payload.byteOffset, payload.byteLength)
    return this.#ask((done, failed) =>
      this.#client.publish(topic, bytes, options, error => {
        const code = codeOf(error)
        if (error && code === undefined) failed(error)
        else done(code ?? 0)
      }),
    )
  }

  async end(): Promise<void> {
    if (this.#over) return
    const over = new Promise<void>(done => {
      this.#onEnd = done
    })
    this.#client.end()
    await over
  }

  drop(error?: Error): void {
    if (this.#over) return
    if (error) this.#how = { ...this.#how, error }
    this.#client.stream.destroy()
    this.#finish()
  }

  #ask<T>(send: (done: (answer: T) => void, failed: (error: Error) => void) => void): Promise<T> {
    return new Promise((done, failed) => {
      if (this.#over) throw new Error(LINK_WENT_DOWN)
      this.#waiting.add(failed)
      const answered = () => this.#waiting.delete(failed)
      void this.#ready.then(() =>
        send(
          answer => answered() && done(answer),
          error => answered() && failed(error),
        ),
      )
    })
  }

  #take(packet: Packet): void {
    if (this.#over) return
    if (packet.cmd === 'pingresp') this.#gate.answered()
    if (packet.cmd === 'disconnect') this.#how = { ...this.#how, toldBy: packet.reasonCode ?? 0 }
    if (packet.cmd !== 'connack' || this.#live) return
    const code = packet.reasonCode || packet.returnCode || 0
    if (code !== 0) {
      this.#how = { refusedBy: code }
      return
    }
    this.#live = true
    this.#events.live(packet.sessionPresent)
  }

  #hear(message: Heard): void {
    if (this.#over) return
    const kept = this.#events.heard(message)
    if (!kept) return
    const release = message.packetId === undefined ? () => {} : this.#gate.hold(message.packetId)
    kept.then(release, () => {})
  }

  /** The client's own words for a silent broker say less. */
  #sentenceOf(error: Error): string {
    // A name with several addresses: each was tried.
    if (error instanceof AggregateError) return error.errors.map(({ message }: Error) => message).join(', ')
    const { message } = error
    if (message === 'connack timeout') return answeredNothing(this.#options.timeoutMilliseconds)
    if (message === 'Keepalive timeout') return keptSilent(this.#client.keepalive)
    return message
  }

  #finish(): void {
    if (this.#over) return
    this.#over = true
    for (const failed of this.#waiting) failed(new Error(LINK_WENT_DOWN))
    this.#waiting.clear()
    this.#onEnd()
    // Said when the caller has gone on, as the end of every connection.
    queueMicrotask(() => this.#events.ended(this.#how))
  }
}

/** Of a name with several addresses: none has a listener. */
const hasNoListener = (error: Error): boolean =>
  error instanceof AggregateError ? error.errors.every(hasNoListener) : 'code' in error && error.code === 'ECONNREFUSED'

const LINK_WENT_DOWN = 'the link went down'

/** The broker's reason code in an error of the client; errors of the system have texts for codes. */
const codeOf = (error: Error | undefined): number | undefined =>
  error && 'code' in error && typeof error.code === 'number' ? error.code : undefined
