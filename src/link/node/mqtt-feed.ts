import type { IPublishPacket, MqttClient } from 'mqtt'
import type { Feed, LinkState } from '../../protocol/feed.ts'
import {
  addressFault,
  isAccountRefusal,
  isVersionRefusal,
  named,
  SESSION_TAKEN,
  SHORT_LIVED,
  whyOf,
} from '../refusals.ts'
import { AckGate } from './ack-gate.ts'
import { clientOptionsOf, type NodeFeedOptions, sentenceOf } from './client-options.ts'
import { heardOf } from './heard-of.ts'

type Listener = Parameters<Feed['open']>[0]

/** A link that was up this long starts again with the shortest wait. */
const STEADY_MILLISECONDS = 10_000
const CLOSE_MILLISECONDS = 2_000

/**
 * A `Feed` over MQTT. It dials until it is closed, MQTT 5 first.
 *
 * A message whose `heard` answers a promise is acknowledged when that is fulfilled, and later messages are
 * delivered meanwhile. When it is rejected in a kept session, the message stays unacknowledged and the link is
 * made anew, so that the broker sends it again; in a clean session it is acknowledged. A listener that throws
 * at once has had its message.
 */
export function mqttFeed(options: NodeFeedOptions): Feed {
  return new MqttFeed(options)
}

class MqttFeed implements Feed {
  readonly #options: NodeFeedOptions
  readonly #now: () => number
  readonly #clientId: string
  readonly #pending = new Set<(error: Error) => void>()
  #listener: Listener | undefined
  #filters: ReadonlySet<string> = new Set()
  #state: LinkState | undefined
  #client: MqttClient | undefined
  #version: 4 | 5
  #liveWith: 4 | 5 | undefined
  #attempt = 0
  /** Times in a row that a link ended soon after it was made. */
  #short = 0
  #timer: ReturnType<typeof setTimeout> | undefined
  #closed = false

  constructor(options: NodeFeedOptions) {
    this.#options = options
    this.#now = options.now ?? Date.now
    this.#version = options.protocolVersion ?? 5
    this.#clientId = options.clientId ?? `sash${this.#draw(1e12).toString(36)}${this.#draw(1e12).toString(36)}`
  }

  open(listener: Listener): void {
    if (this.#listener) throw new Error('this feed is open already')
    this.#listener = listener
    this.#say({ state: 'connecting', since: this.#now() })
    const fault = addressFault(this.#options.url)
    if (fault) this.#say({ state: 'refused', since: this.#now(), why: fault })
    else this.#dial()
  }

  listen(filters: readonly string[]): void {
    const before = this.#filters
    this.#filters = new Set(filters)
    const client = this.#client
    if (!client?.connected) return
    const gone = [...before].filter(filter => !this.#filters.has(filter))
    if (gone.length) client.unsubscribe(gone, () => {})
    this.#subscribe(
      client,
      filters.filter(filter => !before.has(filter)),
    )
  }

  publish: Feed['publish'] = (topic, payload, { qos = 1, retain = false, expirySeconds } = {}) => {
    const client = this.#client
    if (!client?.connected) return Promise.reject(new Error('the link to the broker is down'))
    return new Promise((done, failed) => {
      this.#pending.add(failed)
      const properties = expirySeconds === undefined ? {} : { properties: { messageExpiryInterval: expirySeconds } }
      client.publish(topic, payload as Buffer | string, { qos, retain, ...properties }, error => {
        if (!this.#pending.delete(failed)) return
        if (error) failed(new Error(`the broker did not take the message on ${topic}: ${error.message}`))
        else done()
      })
    })
  }

  async close(): Promise<void> {
    if (this.#closed) return
    this.#closed = true
    clearTimeout(this.#timer)
    const client = this.#client
    if (client?.connected) {
      await new Promise<void>(done => {
        const force = setTimeout(() => client.end(true, () => done()), CLOSE_MILLISECONDS)
        client.end(false, () => {
          clearTimeout(force)
          done()
        })
      })
    } else client?.end(true)
    this.#failPending('the link was closed')
  }

  #draw(below: number): number {
    return Math.floor((this.#options.random ?? Math.random)() * below)
  }

  #dial(): void {
    const { dial, url } = this.#options
    const version = this.#version
    this.#options.onAttempt?.(version)
    const clientOptions = clientOptionsOf(this.#options, this.#clientId, version)
    const gate = new AckGate()
    let client: MqttClient
    try {
      client = dial(url, clientOptions, gate)
    } catch (error) {
      this.#say({ state: 'refused', since: this.#now(), why: error instanceof Error ? error.message : String(error) })
      return
    }
    this.#client = client
    let liveAt: number | undefined
    let opened = false
    let why: string | undefined
    let toldBy: number | undefined
    let refusal: { code: number; why: string } | undefined
    client.on('packetreceive', packet => {
      opened = true
      // Said before any message of the session is handed over.
      if (packet.cmd === 'connack' && !(packet.reasonCode || packet.returnCode)) {
        liveAt = this.#now()
        this.#liveWith = version
        this.#say({ state: 'live', since: liveAt, sessionPresent: packet.sessionPresent })
      }
      if (packet.cmd === 'disconnect') {
        toldBy = packet.reasonCode ?? 0
        why = whyOf(toldBy, this.#clientId) ?? why
      }
    })
    client.on('connect', () => this.#subscribe(client, [...this.#filters]))
    client.on('message', (topic, payload, packet) => this.#hear(client, gate, topic, payload, packet))
    client.on('error', error => {
      const code = 'code' in error && typeof error.code === 'number' ? error.code : undefined
      if (liveAt === undefined && opened && code !== undefined)
        refusal = { code, why: whyOf(code, this.#clientId) ?? error.message }
      why ??= code === undefined ? sentenceOf(error, this.#options) : whyOf(code, this.#clientId)
    })
    let ended = false
    client.on('close', () => {
      if (ended) return
      ended = true
      if (this.#client === client) this.#client = undefined
      this.#failPending('the broker did not take the message: the link went down')
      client.end(true)
      if (!this.#closed) this.#lost(version, liveAt, refusal, { why, isTaken: toldBy === SESSION_TAKEN })
    })
  }

  #lost(
    version: 4 | 5,
    liveAt: number | undefined,
    refusal: { code: number; why: string } | undefined,
    { why, isTaken }: { readonly why: string | undefined; readonly isTaken: boolean },
  ): void {
    const { retry = { firstSeconds: 1, mostSeconds: 30 }, protocolVersion } = this.#options
    const steady = liveAt !== undefined && this.#now() - liveAt >= STEADY_MILLISECONDS
    if (steady) this.#attempt = 0
    this.#short = liveAt === undefined ? this.#short : steady ? 0 : this.#short + 1
    if (protocolVersion === undefined && liveAt === undefined) {
      const retryOlder = version === 5 && (refusal ? isVersionRefusal(refusal.code) : why === undefined)
      if (retryOlder) {
        this.#version = 4
        this.#dial()
        return
      }
      if (isVersionRefusal(refusal?.code) || !(refusal || this.#liveWith === 4)) this.#version = 5
    }
    if (refusal) {
      const account = isAccountRefusal(refusal.code) ? { account: true as const } : {}
      this.#say({ state: 'refused', since: this.#now(), why: refusal.why, ...account })
    } else {
      const guess = liveAt !== undefined && this.#short > 1 ? whyOf(SHORT_LIVED, this.#clientId) : undefined
      const said = why ?? guess
      this.#say({
        state: 'down',
        since: this.#now(),
        ...(said ? { why: said } : {}),
        ...(isTaken ? { taken: true } : {}),
      })
    }
    const longest = Math.min(retry.mostSeconds, retry.firstSeconds * 2 ** Math.min(this.#attempt++, 16)) * 1000
    const wait = refusal ? retry.mostSeconds * 1000 : longest
    this.#timer = setTimeout(() => this.#dial(), wait / 2 + this.#draw(wait / 2))
  }

  #subscribe(client: MqttClient, filters: readonly string[]): void {
    if (filters.length === 0) return
    const more = this.#version === 5 ? { rap: this.#options.retainAsPublished ?? false } : {}
    client.subscribe([...filters], { qos: 1, ...more }, (error, _granted, packet) => {
      if (this.#closed || client !== this.#client || !client.connected) return
      const answers = packet?.granted.map(Number) ?? []
      const refused = filters.filter((_filter, index) => (answers[index] ?? 0) >= 128)
      if (refused.length === 0 && !error) return
      const which = refused.length ? refused : filters
      const why = `the broker does not let this account read ${named(which)}`
      this.#say({ state: 'refused', since: this.#now(), why, filters: which })
    })
  }

  #hear(client: MqttClient, gate: AckGate, topic: string, payload: Uint8Array, packet: IPublishPacket): void {
    const message = heardOf(topic, payload, packet)
    try {
      const kept = this.#listener?.heard(message)
      if (!kept) return
      const release = packet.qos === 1 && packet.messageId !== undefined ? gate.hold(packet.messageId) : () => {}
      kept.then(release, error => {
        this.#options.onListenerError?.(error)
        if (this.#options.clean ?? true) return release()
        client.stream.destroy(Object.assign(new Error(`a word could not be kept: ${error}`), { code: 'NOT_KEPT' }))
      })
    } catch (error) {
      this.#options.onListenerError?.(error)
    }
  }

  #failPending(why: string): void {
    for (const fail of [...this.#pending]) fail(new Error(why))
    this.#pending.clear()
  }

  #say(next: LinkState): void {
    const last = this.#state
    const why = 'why' in next ? next.why : undefined
    const same = last?.state === next.state && next.state !== 'live' && !('filters' in next)
    if (same && ('why' in last ? last.why : undefined) === why) return
    this.#state = same ? { ...next, since: last.since } : next
    try {
      this.#listener?.link(this.#state)
    } catch (error) {
      this.#options.onListenerError?.(error)
    }
  }
}
