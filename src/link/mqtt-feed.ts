import { type Feed, type Heard, type LinkState, NotTaken } from '../protocol/feed.ts'
import { messageOf } from '../text/message-of.ts'
import { utf8Bytes } from '../text/utf8.ts'
import type { Connection, Ended } from './connection.ts'
import { connectionOptionsOf, type FeedOptions } from './feed-options.ts'
import type { Version } from './mqtt/packet.ts'
import {
  addressFault,
  isAccountRefusal,
  isForbidden,
  isNodeRefusal,
  isVersionRefusal,
  named,
  SESSION_TAKEN,
  SHORT_LIVED,
  whyNotTaken,
  whyOf,
} from './refusals.ts'

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
export function mqttFeed(options: FeedOptions): Feed {
  return new MqttFeed(options)
}

class MqttFeed implements Feed {
  readonly #options: FeedOptions
  readonly #now: () => number
  readonly #clientId: string
  readonly #nodes: readonly string[]
  /** The node that is dialled, and how many in a row could not be reached. */
  #node = 0
  #unreached = 0
  /** How many attempts in a row found that nothing listens there. */
  #unlistened = 0
  #listener: Listener | undefined
  #filters: ReadonlySet<string> = new Set()
  #state: LinkState | undefined
  #connection: Connection | undefined
  #version: Version
  #liveWith: Version | undefined
  #attempt = 0
  /** Times in a row that a link ended soon after it was made. */
  #short = 0
  #timer: ReturnType<typeof setTimeout> | undefined
  #closed = false

  constructor(options: FeedOptions) {
    this.#options = options
    this.#nodes = options.url.split(' ')
    this.#now = options.now ?? Date.now
    this.#version = options.protocolVersion ?? 5
    this.#clientId = options.clientId ?? `sash${this.#draw(1e12).toString(36)}${this.#draw(1e12).toString(36)}`
  }

  open(listener: Listener): void {
    if (this.#listener) throw new Error('this feed is open already')
    this.#listener = listener
    this.#say({ state: 'connecting', since: this.#now() })
    const fault = this.#nodes.map(addressFault).find(each => each)
    if (fault) this.#say({ state: 'refused', since: this.#now(), why: fault })
    else this.#dial()
  }

  listen(filters: readonly string[]): void {
    const before = this.#filters
    this.#filters = new Set(filters)
    const connection = this.#connection
    if (!connection?.isLive) return
    const gone = [...before].filter(filter => !this.#filters.has(filter))
    if (gone.length) connection.unsubscribe(gone).catch(() => {})
    this.#subscribe(
      connection,
      filters.filter(filter => !before.has(filter)),
    )
  }

  publish: Feed['publish'] = async (topic, payload, { qos = 1, retain = false, expirySeconds } = {}) => {
    const connection = this.#connection
    if (!connection?.isLive) throw new Error('the link to the broker is down')
    const bytes = typeof payload === 'string' ? utf8Bytes(payload) : payload
    const expiry = expirySeconds === undefined ? {} : { expirySeconds }
    const code = await connection.publish({ topic, payload: bytes, qos, retain, ...expiry }).catch(error => {
      throw new Error(`the broker did not take the message on ${topic}: ${messageOf(error)}`)
    })
    if (code >= 128) {
      throw new NotTaken(`the broker did not take the message on ${topic}: ${whyNotTaken(code)}`, isForbidden(code))
    }
  }

  async close(): Promise<void> {
    if (this.#closed) return
    this.#closed = true
    clearTimeout(this.#timer)
    const connection = this.#connection
    if (!connection?.isLive) return connection?.drop()
    const force = setTimeout(() => connection.drop(), CLOSE_MILLISECONDS)
    await connection.end()
    clearTimeout(force)
  }

  #draw(below: number): number {
    return Math.floor((this.#options.random ?? Math.random)() * below)
  }

  #dial(): void {
    const version = this.#version
    this.#options.onAttempt?.(version)
    let liveAt: number | undefined
    try {
      const url = this.#nodes[this.#node]!
      const connection = this.#options.connect(url, connectionOptionsOf(this.#options, this.#clientId, version), {
        live: sessionPresent => {
          liveAt = this.#now()
          this.#liveWith = version
          this.#unreached = 0
          this.#say({ state: 'live', since: liveAt, sessionPresent })
          this.#subscribe(connection, [...this.#filters])
        },
        heard: message => this.#hear(connection, message),
        ended: how => {
          if (this.#connection === connection) this.#connection = undefined
          if (!this.#closed) this.#lost(version, liveAt, how)
        },
      })
      this.#connection = connection
    } catch (error) {
      this.#say({ state: 'refused', since: this.#now(), why: messageOf(error) })
    }
  }

  #lost(version: Version, liveAt: number | undefined, { refusedBy, toldBy, error, nobodyListens }: Ended): void {
    this.#unlistened = nobodyListens ? this.#unlistened + 1 : 0
    const code = refusedBy ?? toldBy
    const why = (code === undefined ? undefined : whyOf(code, this.#clientId)) ?? error?.message
    const refusal =
      refusedBy === undefined
        ? undefined
        : { code: refusedBy, why: why ?? `the broker refused the link with code ${refusedBy}` }
    const { retry = { firstSeconds: 1, mostSeconds: 30 }, protocolVersion } = this.#options
    const steady = liveAt !== undefined && this.#now() - liveAt >= STEADY_MILLISECONDS
    if (steady) this.#attempt = 0
    this.#short = liveAt === undefined ? this.#short : steady ? 0 : this.#short + 1
    if (protocolVersion === undefined && liveAt === undefined) {
      // Some brokers of 3.1.1 close on a CONNECT of 5 without a word.
      const retryOlder = version === 5 && (refusal ? isVersionRefusal(refusal.code) : why === undefined)
      if (retryOlder) {
        this.#version = 4
        this.#dial()
        return
      }
      if (isVersionRefusal(refusal?.code) || !(refusal || this.#liveWith === 4)) this.#version = 5
    }
    // What a node says of account or client id, every other would say.
    const mayOther = liveAt === undefined ? !refusal || isNodeRefusal(refusal.code) : this.#short > 1
    if (mayOther) this.#node = (this.#node + 1) % this.#nodes.length
    if (mayOther && liveAt === undefined && ++this.#unreached % this.#nodes.length > 0) {
      this.#dial()
      return
    }
    if (refusal) {
      const account = isAccountRefusal(refusal.code) ? { account: true as const } : {}
      this.#say({ state: 'refused', since: this.#now(), why: refusal.why, ...account })
    } else {
      const guess = liveAt !== undefined && this.#short > 1 ? whyOf(SHORT_LIVED, this.#clientId) : undefined
      const said = why ?? guess
      const taken = toldBy === SESSION_TAKEN ? { taken: true as const } : {}
      const unlistened = this.#unlistened >= this.#nodes.length ? { nobodyListens: true as const } : {}
      this.#say({ state: 'down', since: this.#now(), ...(said ? { why: said } : {}), ...taken, ...unlistened })
    }
    const longest = Math.min(retry.mostSeconds, retry.firstSeconds * 2 ** Math.min(this.#attempt++, 16)) * 1000
    const wait = refusal ? retry.mostSeconds * 1000 : longest
    this.#timer = setTimeout(() => this.#dial(), wait / 2 + this.#draw(wait / 2))
  }

  #subscribe(connection: Connection, filters: readonly string[]): void {
    if (filters.length === 0) return
    const retainAsPublished = this.#options.retainAsPublished ?? false
    const refuse = (refused: readonly string[], why: string) => {
      if (this.#closed || !connection.isLive || refused.length === 0) return
      this.#say({ state: 'refused', since: this.#now(), why, filters: refused })
    }
    connection.subscribe(filters, { qos: 1, retainAsPublished }).then(
      codes => {
        const refused = filters.filter((_filter, index) => (codes[index] ?? 0) >= 128)
        refuse(refused, `the broker does not let this account read ${named(refused)}`)
      },
      // A link that went down is said as that.
      error => refuse(filters, `the broker could not be asked for ${named(filters)}: ${messageOf(error)}`),
    )
  }

  #hear(connection: Connection, message: Heard): void | Promise<void> {
    try {
      return this.#listener?.heard(message)?.catch(error => {
        this.#options.onListenerError?.(error)
        if (this.#options.clean ?? true) return
        connection.drop(new Error(`a word could not be kept: ${messageOf(error)}`))
        throw error
      })
    } catch (error) {
      this.#options.onListenerError?.(error)
    }
  }

  #say(next: LinkState): void {
    const last = this.#state
    const told = (state: LinkState) => ('why' in state ? state.why : '') + ('nobodyListens' in state ? '!' : '')
    const same = last?.state === next.state && next.state !== 'live' && !('filters' in next)
    if (same && told(last) === told(next)) return
    this.#state = same ? { ...next, since: last.since } : next
    try {
      this.#listener?.link(this.#state)
    } catch (error) {
      this.#options.onListenerError?.(error)
    }
  }
}
