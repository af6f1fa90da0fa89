import type { FeedOptions } from '../../link/feed-options.ts'
import { mqttFeed } from '../../link/mqtt-feed.ts'
import { connectNode } from '../../link/node/package-connection.ts'
import type { Feed } from '../../protocol/feed.ts'
import type { Register } from '../../register/types.ts'
import { EXIT, Stop } from '../world.ts'
import type { Credentials } from './credentials.ts'

/**
 * Where the register says that the broker is.
 * @throws Stop exit 1 when it names none
 */
export function brokerUrlOf(register: Register): string {
  const url = register.broker.mqtt ?? register.broker.websocket
  if (url === undefined) throw new Stop(EXIT.input, "the register names no broker: add broker: { mqtt: 'mqtt://…' }")
  return url
}

/**
 * A link to a broker that is not open yet.
 * @param trust - certificate (PEM) of a broker in this same process, which may be for another name
 */
export function linkTo(
  url: string,
  account: Credentials,
  more: Omit<FeedOptions, 'url' | 'connect'> = {},
  trust?: string,
): Feed {
  const tls = trust === undefined ? {} : { ca: trust, checkServerIdentity: () => undefined }
  return mqttFeed({ url, connect: connectNode(tls), ...account, ...more })
}

/** A link for watching with, and the version of MQTT that it last dialled with: 5 or 4 (3.1.1). */
export function watchLink(url: string, account: Credentials): { readonly feed: Feed; version(): number } {
  let version = 5
  const feed = mqttFeed({
    url,
    connect: connectNode(),
    ...account,
    retainAsPublished: true,
    onAttempt: next => {
      version = next
    },
  })
  return { feed, version: () => version }
}
