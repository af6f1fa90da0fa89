import { nearest } from '../text/nearest.ts'
import { shown } from '../text/problems.ts'
import { isTimeZone } from '../text/time-zone.ts'
import { brokerRules } from './broker-rules.ts'
import type { RuleContext } from './rule-context.ts'
import { topicFault } from './topics.ts'

/** Rules on the house's own keys. */
export function houseRules(context: RuleContext): void {
  const { read, root, whole, add } = context
  const zone = read(['timezone'])
  if (typeof zone === 'string' && !isTimeZone(zone)) {
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
  brokerRules(context)
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
