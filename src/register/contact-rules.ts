import { shown } from '../text/problems.ts'
import type { Path } from '../text/raw.ts'
import { addressRules, repeatRules } from './craft-rules.ts'
import { placeRules, useRules } from './opening-rules.ts'
import { DEFAULT_TALLY } from './resolve.ts'
import { type RuleContext, textOf, valueAt, whose } from './rule-context.ts'
import { derivedClient, derivedTopic, isInside, isPortableClient, topicFault } from './topics.ts'

/** One opening as far as its line could be read. */
interface Contact {
  readonly index: number
  /** Its mark, or `opening 12` where that cannot be read. */
  readonly who: string
  readonly mark: string | undefined
  readonly topic: string | undefined
  readonly topicPath: Path
  readonly client: string | undefined
  readonly clientPath: Path
}

/** Rules on openings: identity, topics, client ids, places, earlier marks, cells. */
export function contactRules(context: RuleContext): void {
  const { root } = context
  const tally = tallyOf(context)
  const count = Array.isArray(root.openings) ? root.openings.length : 0
  const contacts = Array.from({ length: count }, (_, index) => contactOf(context, index, tally))
  markRules(context, contacts)
  for (const contact of contacts) {
    topicRules(context, contact, tally)
    clientRules(context, contact)
    placeRules(context, contact)
    useRules(context, contact)
  }
  twice(contacts, 'topic', (contact, other) => {
    context.add(
      contact.topicPath,
      'value',
      'topic-twice',
      `${other.who} and ${contact.who} share the topic ${shown(contact.topic)}: their words could not be told apart, give ${contact.who} a topic of its own`,
    )
  })
  twice(contacts, 'client', (contact, other) => {
    const derived = contact.clientPath.at(-1) === 'mark' ? ' (made from its mark)' : ''
    context.add(
      contact.clientPath,
      'value',
      'client-id-twice',
      `${other.who} and ${contact.who} share the client id ${shown(contact.client)}${derived}: a broker keeps one of two clients with one id (MQTT-3.1.4-2), give ${contact.who} a client of its own`,
    )
  })
  addressRules(context, contacts)
  repeatRules(context, contacts)
}

/** The tally topic that names are derived from; undefined when it cannot be read. */
function tallyOf({ read, root }: RuleContext): string | undefined {
  if (root.tally === undefined) return DEFAULT_TALLY
  const tally = textOf(read(['tally']))
  return tally === undefined || topicFault(tally) ? undefined : tally
}

function contactOf({ read, root }: RuleContext, index: number, tally: string | undefined): Contact {
  const here = (key: string): Path => ['openings', index, key]
  const mark = textOf(read(here('mark')))
  const has = (key: string): boolean => valueAt(root, here(key)) !== undefined
  const derive = (name: (tally: string, mark: string) => string): string | undefined =>
    tally === undefined || mark === undefined ? undefined : name(tally, mark)
  return {
    index,
    who: whose(root, here('mark')),
    mark,
    topic: has('topic') ? textOf(read(here('topic'))) : derive(derivedTopic),
    topicPath: here(has('topic') ? 'topic' : 'mark'),
    client: has('client') ? textOf(read(here('client'))) : derive(derivedClient),
    clientPath: here(has('client') ? 'client' : 'mark'),
  }
}

function twice(
  contacts: readonly Contact[],
  key: 'topic' | 'client',
  found: (contact: Contact, other: Contact) => void,
): void {
  const first = new Map<string, Contact>()
  for (const contact of contacts) {
    const value = contact[key]
    if (value === undefined) continue
    const other = first.get(value)
    if (other && contact[`${key}Path`].at(-1) === 'mark' && sameMark(contact, other)) continue
    if (other) found(contact, other)
    else first.set(value, contact)
  }
}

// Then the mark is the mistake, and the clash of what is made from it would only repeat that.
const sameMark = (one: Contact, other: Contact): boolean =>
  one.mark !== undefined && one.mark.toLowerCase() === other.mark?.toLowerCase()

function markRules({ root, read, line, add }: RuleContext, contacts: readonly Contact[]): void {
  const owner = new Map<string, Contact>()
  for (const contact of contacts) {
    if (contact.mark === undefined) continue
    const key = contact.mark.toLowerCase()
    const other = owner.get(key)
    if (other) {
      add(
        ['openings', contact.index, 'mark'],
        'value',
        'mark-twice',
        `A mark names one opening, whatever its case; ${other.who} of line ${line(['openings', other.index, 'mark'])} stands here again as ${contact.who}: give this opening a mark of its own`,
      )
    } else owner.set(key, contact)
  }
  const earlier = new Map<string, Contact>()
  for (const contact of contacts) {
    const was = valueAt(root, ['openings', contact.index, 'was'])
    for (const index of Array.isArray(was) ? was.keys() : []) {
      const path: Path = ['openings', contact.index, 'was', index]
      const mark = textOf(read(path))
      if (mark === undefined) continue
      const other = owner.get(mark.toLowerCase())
      const taken = earlier.get(mark.toLowerCase())
      if (other)
        add(
          path,
          'value',
          'was-in-use',
          `${contact.who}: An earlier mark is in use no more; ${shown(mark)} is the mark of an opening now: take it out, or rename that opening`,
        )
      else if (taken)
        add(
          path,
          'value',
          'was-twice',
          `${contact.who}: The history of a mark belongs to one opening; ${shown(mark)} stands under was of ${taken.who} too: take one out`,
        )
      else earlier.set(mark.toLowerCase(), contact)
    }
  }
}

function topicRules(
  { root, add }: RuleContext,
  { who, index, topic, topicPath }: Contact,
  tally: string | undefined,
): void {
  if (topic === undefined) return
  const fault = topicFault(topic)
  if (fault) add(topicPath, 'value', fault.code, `${who}: The topic ${shown(topic)} ${fault.says}: choose another`)
  else if (tally !== undefined && isInside(topic, tally)) {
    const written = valueAt(root, ['openings', index, 'topic']) !== undefined
    add(
      topicPath,
      'value',
      'topic-in-tally',
      `${who}: ${shown(tally)} and all beneath it are the tally's own topics; ${shown(topic)} lies there: ${written ? 'choose a topic outside it' : 'give it a topic, or choose another tally topic'}`,
    )
  }
}

function clientRules({ add }: RuleContext, { who, client, clientPath }: Contact): void {
  if (client === undefined || isPortableClient(client)) return
  if (client === '')
    add(
      clientPath,
      'value',
      'client-id',
      `${who}: A client id has at least one character, since the server makes one up otherwise (MQTT-3.1.3-6); this one is empty: write one, or take the key out`,
    )
  else if (/[\0\p{Cs}]/u.test(client))
    add(
      clientPath,
      'value',
      'client-id',
      `${who}: A client id is UTF-8 without U+0000 (MQTT-1.5.3-1 and -2, in version 5 MQTT-1.5.4-1 and -2); ${shown(client)} is not: take it out`,
    )
  else {
    const length = [...client].length
    const found = length > 23 ? `${shown(client)} has ${length} characters` : `${shown(client)} holds other characters`
    add(
      clientPath,
      'value',
      'client-id-portable',
      `${who}: Only client ids of 1 to 23 of 0-9, a-z, A-Z are sure to be accepted by every broker (MQTT-3.1.3-5); ${found}: give it a shorter or plainer client`,
      'warning',
    )
  }
}
