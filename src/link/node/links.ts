import type { Feed } from '../../protocol/feed.ts'
import type { FeedOptions } from '../feed-options.ts'
import { mqttFeed } from '../mqtt-feed.ts'
import { connectNode } from './package-connection.ts'

/** What a broker asks for; empty where nobody need say who they are. */
export interface Credentials {
  readonly username?: string
  readonly password?: string
}

/** What one link to a broker shall be like; all of it may be left out. */
export type LinkWishes = Omit<FeedOptions, 'url' | 'connect' | keyof Credentials>

/** The way to one broker, as often as it is needed. */
export interface Links {
  /** The broker's address or addresses, for sentences. */
  readonly url: string
  /** The account they use; undefined: none. */
  readonly user?: string
  /** A link that is not open yet. */
  link(wishes?: LinkWishes): Feed
}

/**
 * Links to a broker from Node.
 * @param url - `mqtt:`, `mqtts:`, `ws:` or `wss:`; of a cluster the addresses of its nodes, blanks between them
 * @param trust - certificate (PEM) to be trusted for this broker, whatever name it is for
 */
export function linksTo(url: string, account: Credentials = {}, trust?: string): Links {
  const tls = trust === undefined ? {} : { ca: trust, checkServerIdentity: () => undefined }
  return {
    url,
    ...(account.username === undefined ? {} : { user: account.username }),
    link: (wishes = {}) => mqttFeed({ url, connect: connectNode(tls), keepAliveSeconds: 30, ...account, ...wishes }),
  }
}
