import { shown } from '../text/problems.ts'
import type { Path, Raw } from '../text/raw.ts'
import { type RuleContext, textOf, valueAt } from './rule-context.ts'
import { brokerOf, isAddress, isLoopback } from './topics.ts'

/** Rules on the addresses of the broker: one of each kind, or those of the nodes of a cluster. */
export function brokerRules(context: RuleContext): void {
  kindRules('mqtt', ['mqtt', 'mqtts'], context)
  kindRules('websocket', ['ws', 'wss'], context)
}

function kindRules(key: string, schemes: readonly string[], { read, root, add }: RuleContext): void {
  const given = valueAt(root, ['broker', key])
  const nodes = Array.isArray(given) ? given : []
  if (nodes !== given) addressRules(read(['broker', key]), schemes, ['broker', key], add)
  for (const index of nodes.keys()) {
    const path = ['broker', key, index]
    const node = read(path)
    addressRules(node, schemes, path, add)
    if (
      typeof node === 'string' &&
      (nodes.indexOf(node) < index || schemeOf(textOf(nodes[0]) ?? node) !== schemeOf(node))
    )
      add(
        path,
        'value',
        'broker-list',
        `The nodes of a broker differ, and begin alike; ${shown(node)} does not: change it`,
      )
  }
}

const schemeOf = (address: string): string => address.split(':', 1)[0]!

/** A name, IPv4 or bracketed IPv6, as it can stand in an address. */
const isHost = (host: string): boolean =>
  host.startsWith('[') ||
  (/^[\p{L}\p{N}._-]+$/u.test(host) && !(isAddress(host) && host.split('.').some(part => Number(part) > 255)))

function addressRules(address: Raw | undefined, schemes: readonly string[], path: Path, add: RuleContext['add']): void {
  if (typeof address !== 'string') return
  const broker = brokerOf(address)
  if (/^\w+:\/\/[^/?#]*@/.test(address)) {
    add(
      path,
      'value',
      'secret',
      'Secrets never stand in the register; a user or password stands in this address: take out everything up to the @ sign',
    )
  } else if (!broker || !isHost(broker.host) || !schemes.includes(schemeOf(address))) {
    add(
      path,
      'value',
      'broker',
      `A broker address here is ${schemes[0]}://host:port or ${schemes[1]}://host:port; found ${shown(address)}: change it`,
    )
  } else if (path[1] === 'mqtt' && isAddress(broker.host) && !isLoopback(broker.host)) {
    add(
      path,
      'value',
      'broker-address',
      `${broker.host} would be baked into every contact: a host name survives a rebuilt broker or a new address, write one if the house has it`,
      'warning',
    )
  }
}
