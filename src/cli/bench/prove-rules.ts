import type { Entry } from '../../protocol/entry.ts'
import type { Opening, Register } from '../../register/types.ts'
import type { ProveRules } from './prove-seen.ts'

/** Where no contact of the kind was proved before, a mains contact is given this long. */
const MAINS_SECONDS = 10

/** What this contact should do; the limit of its first word from contacts of its kind that were proved before. */
export function rulesOf(
  opening: Opening,
  register: Register,
  entries: Iterable<Entry>,
  power: 'bench' | 'cell',
): ProveRules {
  const { sender, mark } = opening
  const kind = new Set(register.openings.filter(one => one.sender.name === sender.name).map(one => one.mark))
  const joins: number[] = []
  for (const { what, mark: of, joinMilliseconds: join } of entries)
    if (what === 'proved' && kind.has(of) && join) joins.push(join / 1000)
  const median = joins.sort((a, b) => a - b)[Math.floor(joins.length / 2)]
  const firstWord =
    median !== undefined && joins.length >= 3
      ? {
          seconds: Math.max(1.5 * median, median + 1),
          restsOn: `half as much again as the median of ${joins.length} proved of its kind, at least 1 s more`,
        }
      : sender.bootSeconds > 0
        ? {
            seconds: 2 * sender.bootSeconds,
            restsOn: 'twice its load’s time; fewer than 3 of its kind were proved before',
          }
        : { seconds: MAINS_SECONDS, restsOn: 'for the first contacts of a kind on mains' }
  return {
    mark,
    topic: opening.topic,
    client: opening.client,
    reports: sender.reports,
    opened: sender.words.opened,
    rest: sender.words.rest ?? sender.words.gone ?? '',
    ...(sender.words.closed === undefined ? {} : { closed: sender.words.closed }),
    keepAliveSeconds: sender.keepAliveSeconds,
    qos: sender.qos,
    power,
    firstWordSeconds: firstWord.seconds,
    firstWordRestsOn: firstWord.restsOn,
    revision: opening.revision,
    speaksRevision: sender.json?.revision !== undefined,
    speaksJson: sender.json !== undefined,
    speaksBoots: sender.json?.boots !== undefined,
    others: new Map(register.openings.filter(one => one.mark !== mark).map(one => [one.topic, one.mark])),
  }
}
