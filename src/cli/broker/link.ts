import { type Credentials, type LinkWishes, linksTo } from '../../link/node/links.ts'
import type { Feed } from '../../protocol/feed.ts'
import { addressesOf } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { EXIT, Stop } from '../world.ts'

/**
 * Where the register says that the broker is: the addresses of its nodes, blanks between them.
 * @throws Stop exit 1 when it names none
 */
export function brokerUrlOf(register: Register): string {
  const { broker } = register
  const nodes = addressesOf(broker, broker.mqtt === undefined ? 'websocket' : 'mqtt')
  if (nodes.length === 0) throw new Stop(EXIT.input, "the register names no broker: add broker: { mqtt: 'mqtt://…' }")
  return nodes.join(' ')
}

/** A link to a broker that is not open yet. */
export const linkTo = (url: string, account: Credentials, wishes: LinkWishes = {}): Feed =>
  linksTo(url, account).link(wishes)

/** A link for watching with, and the version of MQTT that it last dialled with: 5 or 4 (3.1.1). */
export function watchLink(url: string, account: Credentials): { readonly feed: Feed; version(): number } {
  let version = 5
  const feed = linkTo(url, account, {
    retainAsPublished: true,
    onAttempt: next => {
      version = next
    },
  })
  return { feed, version: () => version }
}
