import { contactRules } from './contact-rules.ts'
import { nearest } from './nearest.ts'
import { shown } from './problems.ts'
import type { Path, Raw } from './raw.ts'
import { namesIn, type Sight, valueAt, whose } from './sight.ts'
import { brokerOf, isAddress, isLoopback, topicFault } from './topics.ts'
import { BUILT_IN_CELLS } from './types.ts'

const CELLS: readonly string[] = BUILT_IN_CELLS
/** Rules that hold between parts of the register, checked on whatever could be read. */
export function crossRules(sight: Sight): void {
  houseRules(sight)
  for (const name of namesIn(sight.root.senders)) senderRules(sight, name)
  contactRules(sight)
}

function houseRules({ read, root, whole, add }: Sight): void {
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

function brokerRules(address: Raw | undefined, schemes: readonly string[], path: Path, add: Sight['add']): void {
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

const SENDER_WORDS = { openings: ['opened', 'rest'], both: ['opened', 'closed', 'gone'] } as const
/** Words that other subscribers, people and programs, take for a closed window. */
const SAYS_CLOSED =
  /^(?:0|no|off|false|ok|safe|zu|dicht)$|(?:^|[^\p{L}])(?:closed?|shut|locked|secured?|geschlossen|ferm[ée]e?|cerrad[oa]|chius[oa]|fechad[oa]|gesloten|lukket|stängd|suljettu|zamkni[ęe]te|zavřeno|закрыт[оа]?|κλειστό|關閉|关闭|閉|닫힘)(?:$|[^\p{L}])/iu

function senderRules({ read, root, whole, add }: Sight, name: string): void {
  const here = (...path: (string | number)[]): Path => ['senders', name, ...path]
  const lead = `${whose(root, here())}: `
  const has = (...path: (string | number)[]): boolean => valueAt(root, here(...path)) !== undefined
  if (!namesIn(valueAt(root, here())).length) return

  if (has('cell') && has('power')) {
    add(
      here('power'),
      'key',
      'cell-and-power',
      `${lead}A contact runs from a cell or from the mains, and both stand here: take one out`,
    )
  } else if (!has('cell') && !has('power') && whole) {
    add(
      here(),
      'key',
      'no-power',
      `${lead}A contact runs from a cell or from the mains, and neither stands here: add cell: CR2032, or power: mains`,
    )
  }
  const cell = read(here('cell'))
  if (typeof cell === 'string' && !CELLS.includes(cell)) {
    const meant = nearest(cell, CELLS)
    add(
      here('cell'),
      'value',
      'cell-unknown',
      `${lead}What is left can be told for ${CELLS.join(', ')}; there are no figures for ${shown(cell)}: ${meant ? `did you mean ${meant}?` : 'its openings are only counted'}`,
      'warning',
    )
  }
  if (read(here('power')) === 'mains' && has('load')) {
    add(
      here('load'),
      'key',
      'load-on-mains',
      `${lead}A load is what a cell must carry; on mains it is not used: take it out`,
      'warning',
    )
  }
  if (read(here('qos')) === 0) {
    add(
      here('qos'),
      'value',
      'qos-0',
      `${lead}At QoS 0 a word can be lost on the way and no one can know: write qos: 1`,
      'warning',
    )
  }
  wordRules({ read, whole, add }, here, lead, has)
  pointerRules({ read, add }, here, lead)
  const phases = valueAt(root, here('load'))
  for (const index of Array.isArray(phases) ? phases.keys() : []) {
    const lasts = read(here('load', index, 'burst', 'milliseconds'))
    const every = read(here('load', index, 'burst', 'everyMilliseconds'))
    if (typeof lasts === 'number' && typeof every === 'number' && lasts > every) {
      add(
        here('load', index, 'burst', 'milliseconds'),
        'value',
        'burst',
        `${lead}A burst ends before the next begins; this one lasts ${lasts} ms every ${every} ms: shorten it`,
      )
    }
  }
}

type Has = (...path: (string | number)[]) => boolean
type Here = (...path: (string | number)[]) => Path

function wordRules(
  { read, whole, add }: Pick<Sight, 'read' | 'whole' | 'add'>,
  here: Here,
  lead: string,
  has: Has,
): void {
  const reports = read(here('reports'))
  if (has('words') && (reports === 'openings' || reports === 'both')) {
    const wanted: readonly string[] = SENDER_WORDS[reports]
    const rule = `${lead}A contact that reports ${reports === 'both' ? 'both edges' : 'openings'} has the words ${wanted.join(', ')}`
    const missing = wanted.filter(word => !has('words', word))
    if (missing.length && whole)
      add(
        here('words'),
        'key',
        'words-missing',
        `${rule}; ${missing.join(' and ')} ${missing.length === 1 ? 'is' : 'are'} missing: add ${missing.length === 1 ? 'it' : 'them'}`,
      )
    for (const word of ['rest', 'closed', 'gone']) {
      if (has('words', word) && !wanted.includes(word))
        add(
          here('words', word),
          'key',
          'word-unused',
          `${rule}; ${word} is none of them: take it out, or change reports`,
        )
    }
  } else if (has('words') && !has('words', 'opened') && whole) {
    add(here('words'), 'key', 'words-missing', `${lead}Every contact has a word for opened; it is missing: add it`)
  }
  const first = new Map<string, string>()
  for (const key of ['opened', 'rest', 'closed', 'gone']) {
    const word = read(here('words', key))
    if (typeof word !== 'string') continue
    const same = first.get(word.trim())
    if (same)
      add(
        here('words', key),
        'value',
        'words-equal',
        `${lead}The words of a contact differ; ${same} and ${key} are both ${shown(word)}: change one`,
      )
    else first.set(word.trim(), key)
    if ((key === 'rest' || key === 'gone') && SAYS_CLOSED.test(word.trim())) {
      add(
        here('words', key),
        'value',
        'rest-says-closed',
        `${lead}The ${key} word comes by itself when the contact falls silent, shut or not; ${shown(word)} makes any other subscriber believe that it is shut: use a word such as ${key === 'rest' ? 'asleep' : 'lost'}`,
        'warning',
      )
    }
  }
}

function pointerRules({ read, add }: Pick<Sight, 'read' | 'add'>, here: Here, lead: string): void {
  const first = new Map<string, string>()
  for (const key of ['word', 'millivolts', 'boots', 'revision']) {
    const pointer = read(here('json', key))
    if (typeof pointer !== 'string') continue
    const same = first.get(pointer)
    if (same)
      add(
        here('json', key),
        'value',
        'json-pointer-twice',
        `${lead}Each JSON Pointer leads to its own field; ${same} and ${key} are both ${shown(pointer)}: change one`,
      )
    else first.set(pointer, key)
  }
}
