import { nearest } from '../text/nearest.ts'
import { shown } from '../text/problems.ts'
import type { Path, Raw } from '../text/raw.ts'
import type { RuleContext } from './rule-context.ts'
import { brokerOf, isAddress, isLoopback, topicFault } from './topics.ts'

/** Rules on the house's own keys. */
export function houseRules({ read, root, whole, add }: RuleContext): void {
  const zone = read(['timezone'])
  if (typeof zone === 'string' && !isZone(zone)) {
    add(['timezone'], 'value', 'timezone', () => {
      const meant = nearest(zone, Intl.supportedValuesOf('timeZone'))
      return `A time zone is a name of the IANA time zone database; ${shown(zone)} is none: ${meant ? `did you mean ${meant}?` : 'write one such as Europe/Lisbon'}`
    })
  }
  if (root.timezone === undefined && whole) {
    add(
      [],
      'value',
      'timezone-missing',
      'The house has no timezone, so times are shown in UTC: add one such as timezone: Europe/Lisbon',
      'warning',
    )
  }
  const tally = read(['tally'])
  const fault = typeof tally === 'string' ? topicFault(tally) : undefined
  if (fault) add(['tally'], 'value', fault.code, `The topic tally ${fault.says}: choose another`)
  if (typeof tally === 'string' && /.\/$/.test(tally)) {
    add(
      ['tally'],
      'value',
      'tally-slash',
      'The tally topic ends with a level that has a name; a / ends this one: take it away',
    )
  }
  if (root.tally === undefined && whole) {
    add(
      [],
      'value',
      'tally-missing',
      'The house has no tally topic, so it is house/tally, and topics that are not written out begin with house/: add one of your own, such as tally: ropewalk/tally',
      'warning',
    )
  }
  brokerRules(read(['broker', 'mqtt']), ['mqtt', 'mqtts'], ['broker', 'mqtt'], add)
  brokerRules(read(['broker', 'websocket']), ['ws', 'wss'], ['broker', 'websocket'], add)
  const sides = root.sides
  if (Array.isArray(sides)) {
    for (const [index, side] of sides.entries()) {
      if (sides.indexOf(side) < index)
        add(
          ['sides', index],
          'value',
          'side-twice',
          `A side stands once in sides; ${shown(side)} stands there again: take one out`,
        )
    }
  }
  if (Array.isArray(root.openings) && root.openings.length === 0) {
    add(
      ['openings'],
      'key',
      'no-openings',
      'A register lists openings; this one has none yet: add the first',
      'warning',
    )
  }
}

function isZone(zone: string): boolean {
  // Intl also takes offsets such as +01:00, which know no summer time.
  if (!/^[A-Za-z]/.test(zone)) return false
  try {
    new Intl.DateTimeFormat('en', { timeZone: zone })
    return true
  } catch {
    return false
  }
}

function brokerRules(address: Raw | undefined, schemes: readonly string[], path: Path, add: RuleContext['add']): void {
  if (typeof address !== 'string') return
  const broker = brokerOf(address)
  const scheme = address.split(':', 1)[0] ?? ''
  if (/^\w+:\/\/[^/?#]*@/.test(address)) {
    add(
      path,
      'value',
      'secret',
      'Secrets never stand in the register; a user or password stands in this address: take out everything up to the @ sign',
    )
  } else if (!broker || !schemes.includes(scheme)) {
    add(
      path,
      'value',
      'broker',
      `A broker address here is ${schemes[0]}://host:port or ${schemes[1]}://host:port; found ${shown(address)}: change it`,
    )
  } else if (path.at(-1) === 'mqtt' && isAddress(broker.host) && !isLoopback(broker.host)) {
    add(
      path,
      'value',
      'broker-address',
      `${broker.host} would be baked into every contact: a host name survives a rebuilt broker or a new address, write one if the house has it`,
      'warning',
    )
  }
}
