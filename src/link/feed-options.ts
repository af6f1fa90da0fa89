import type { Connect, ConnectionOptions } from './connection.ts'
import type { Version } from './mqtt/packet.ts'

export interface FeedOptions {
  /**
   * `mqtt:`, `mqtts:`, `ws:` or `wss:` address of the broker; of a cluster the addresses of its nodes, blanks between
   * them. Where a node does not answer the next is dialled; the one that did is dialled first when the link is lost.
   */
  readonly url: string
  readonly connect: Connect
  /** Absent: a random one, which suits a clean session only. */
  readonly clientId?: string
  /** False: the broker keeps the session, and what comes meanwhile, for `sessionExpirySeconds`. Default true. */
  readonly clean?: boolean
  /** How long a kept session lasts, MQTT 5 only; default a week. With 3.1.1 the broker's own setting holds. */
  readonly sessionExpirySeconds?: number
  readonly username?: string
  readonly password?: string
  readonly will?: { readonly topic: string; readonly payload: string; readonly qos?: 0 | 1; readonly retain?: boolean }
  /** Default 10: a wall that says that it is live must soon know better. */
  readonly keepAliveSeconds?: number
  /** Longest time from dialling to the broker's answer; default 10, and 4 where there are other nodes to ask. */
  readonly connectTimeoutSeconds?: number
  /** Wait before the second attempt and the longest wait, seconds; each is drawn from half to the whole of it. */
  readonly retry?: { readonly firstSeconds: number; readonly mostSeconds: number }
  /** MQTT 5: the publisher's retain flag is kept on live messages. Default false: a retained copy is told from a live word. */
  readonly retainAsPublished?: boolean
  /** Most unacknowledged messages the broker may have out, MQTT 5 only; default 1000. */
  readonly receiveMaximum?: number
  /** Only this version; absent: 5, then 3.1.1 where a broker refuses 5. */
  readonly protocolVersion?: Version
  /** Told with which version each attempt is made. */
  readonly onAttempt?: (version: Version) => void
  readonly now?: () => number
  readonly random?: () => number
  /** Told what a listener threw; the link goes on. */
  readonly onListenerError?: (error: unknown) => void
}

const WEEK_SECONDS = 604_800

/** What one attempt asks of the broker. */
export function connectionOptionsOf(options: FeedOptions, clientId: string, version: Version): ConnectionOptions {
  const { clean = true, will, username, password } = options
  return {
    version,
    timeoutMilliseconds: (options.connectTimeoutSeconds ?? (options.url.includes(' ') ? 4 : 10)) * 1000,
    clientId,
    clean,
    keepAliveSeconds: options.keepAliveSeconds ?? 10,
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(will ? { will: { qos: 1, retain: false, ...will } } : {}),
    receiveMaximum: options.receiveMaximum ?? 1000,
    ...(clean ? {} : { sessionExpirySeconds: options.sessionExpirySeconds ?? WEEK_SECONDS }),
  }
}
