import type { IClientOptions } from 'mqtt'
import type { Dial } from './dial.ts'

export interface FeedOptions {
  /** `mqtt:`, `mqtts:`, `ws:` or `wss:` address of the broker. */
  readonly url: string
  readonly dial: Dial
  /** Absent: a random one, which suits a clean session only. */
  readonly clientId?: string
  /** False: the broker keeps the session, and what comes meanwhile, for `sessionExpirySeconds`. Default true. */
  readonly clean?: boolean
  /** How long a kept session lasts, MQTT 5 only; default a week. With 3.1.1 the broker's own setting holds. */
  readonly sessionExpirySeconds?: number
  readonly username?: string
  readonly password?: string
  readonly will?: { readonly topic: string; readonly payload: string; readonly qos?: 0 | 1; readonly retain?: boolean }
  readonly keepAliveSeconds?: number
  /** Longest time from dialling to the broker's answer; default 10. */
  readonly connectTimeoutSeconds?: number
  /** Wait before the second attempt and the longest wait, seconds; each is drawn from half to the whole of it. */
  readonly retry?: { readonly firstSeconds: number; readonly mostSeconds: number }
  /** MQTT 5: the publisher's retain flag is kept on live messages. Default false: a retained copy is told from a live word. */
  readonly retainAsPublished?: boolean
  /** Most unacknowledged messages the broker may have out, MQTT 5 only; default 1000. */
  readonly receiveMaximum?: number
  /** Only this version; absent: 5, then 3.1.1 where a broker refuses 5. */
  readonly protocolVersion?: 4 | 5
  readonly now?: () => number
  readonly random?: () => number
  /** Told what a listener threw; the link goes on. */
  readonly onListenerError?: (error: unknown) => void
}

const WEEK_SECONDS = 604_800

/** One attempt's options for the client: it never reconnects and keeps nothing by itself. */
export function clientOptionsOf(options: FeedOptions, clientId: string, version: 4 | 5): IClientOptions {
  const { clean = true, will, username, password } = options
  return {
    clientId,
    clean,
    protocolVersion: version,
    keepalive: options.keepAliveSeconds ?? 30,
    connectTimeout: (options.connectTimeoutSeconds ?? 10) * 1000,
    reconnectPeriod: 0,
    resubscribe: false,
    // A page's policy may forbid the worker in which the client would keep time.
    timerVariant: 'native',
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(will
      ? {
          will: { topic: will.topic, payload: will.payload as never, qos: will.qos ?? 1, retain: will.retain ?? false },
        }
      : {}),
    ...(version === 5
      ? {
          properties: {
            receiveMaximum: options.receiveMaximum ?? 1000,
            ...(clean ? {} : { sessionExpiryInterval: options.sessionExpirySeconds ?? WEEK_SECONDS }),
          },
        }
      : {}),
  }
}
