import type { IClientOptions } from 'mqtt'
import type { FeedOptions } from '../feed-options.ts'
import type { Dial } from './dial.ts'

/** What a link from Node is made of: as a browser's, but dialled by the package's client. */
export type NodeFeedOptions = Omit<FeedOptions, 'dial'> & { readonly dial: Dial }

const WEEK_SECONDS = 604_800

/** One attempt's options for the client: it never reconnects and keeps nothing by itself. */
export function clientOptionsOf(options: NodeFeedOptions, clientId: string, version: 4 | 5): IClientOptions {
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

/** The package's own words for a broker that is silent say less. */
export const sentenceOf = ({ message }: Error, { connectTimeoutSeconds = 10 }: NodeFeedOptions): string =>
  message === 'connack timeout' ? `the broker gave no answer within ${connectTimeoutSeconds} s` : message
