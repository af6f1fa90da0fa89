import { latestWill, soonestWill } from '../../protocol/last-will.ts'
import { type BenchSeen, type Check, one, own, type ProveRules, quoted, wordOf } from './prove-seen.ts'

/** A takeover is answered at once; more than this is no answer to it. */
const AT_ONCE = 1.5

export function restWord({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'rest word'
  const earliest = soonestWill(rules.keepAliveSeconds)
  const latest = latestWill(rules.keepAliveSeconds)
  const natural = openings.filter(opening => opening.takenOverAt === undefined && wordOf(opening, rules))
  if (rules.reports === 'both')
    return { name, result: 'not seen', says: 'it stays connected; its last will is confirmed with the client id' }
  const waits: string[] = []
  for (const opening of natural) {
    const last = own(opening, rules).findLast(({ what }) => what === 'opened')!
    const rest = own(opening, rules).find(({ what, seconds }) => what === 'rest' && seconds >= last.seconds)
    if (!rest) {
      causes.push(
        'it ends with a clean DISCONNECT: the broker then discards the last will (MQTT-3.1.2-8); go to sleep with the socket open',
        'it sets no last will, or one on another topic',
        `its keep-alive is longer than ${rules.keepAliveSeconds} s, or 0, which never ends`,
      )
      return { name, result: 'failed', says: `no rest word within ${one(latest)} of the last word` }
    }
    const wait = rest.seconds - last.seconds
    if (wait < earliest) {
      const twin = opening.messages.find(
        ({ topic, what, seconds }) =>
          topic !== rules.topic && what === 'opened' && Math.abs(seconds - rest.seconds) <= 2,
      )
      const other = twin && rules.others.get(twin.topic)
      causes.push(
        ...(other === undefined ? [] : [`the same client id as ${other}: ${other} came in and threw it off`]),
        'it closes its socket before it sleeps: the broker then publishes the will at once',
        ...(other === undefined ? ['another client uses its client id'] : []),
        `its keep-alive is shorter than ${rules.keepAliveSeconds} s`,
      )
      return {
        name,
        result: 'failed',
        says: `the rest word came after ${one(wait)}; with a keep-alive of ${rules.keepAliveSeconds} s not before ${one(earliest)}`,
      }
    }
    if (wait > latest) {
      causes.push(
        `its keep-alive is longer than ${rules.keepAliveSeconds} s`,
        'it stays awake and connected after its word',
      )
      return {
        name,
        result: 'failed',
        says: `the rest word came after ${one(wait)}; at most ${one(latest)} were expected`,
      }
    }
    waits.push(one(wait))
  }
  if (waits.length === 0) return { name, result: 'not seen', says: 'no opening was left to its end' }
  return { name, result: 'passed', says: `after ${waits.join(', ')}; ${one(earliest)} to ${one(latest)} were expected` }
}

export function clientId({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'client id'
  const opening = openings.find(({ takenOverAt }) => takenOverAt !== undefined)
  if (!opening) return { name, result: 'not seen', says: 'confirmed in the last of two or more openings' }
  const from = opening.takenOverAt!
  const thrown = own(opening, rules).find(
    ({ what, seconds }) => (what === 'rest' || what === 'gone') && seconds >= from - 0.2,
  )
  if (thrown && thrown.seconds - from <= AT_ONCE) return { name, result: 'passed', says: rules.client }
  causes.push(
    `its client id is not ${quoted(rules.client)}: flash its own header; two contacts with one id throw each other off only when both are awake`,
    'it had left the broker already: it closes its socket, or ends with a clean DISCONNECT',
  )
  return { name, result: 'failed', says: `when we came in as ${quoted(rules.client)} nobody was thrown off` }
}

export function keptCheck({ openings, kept }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'retained'
  const words = openings.flatMap(opening => own(opening, rules))
  // A rest word before the word of this opening is a leftover of another time.
  const rests = openings.flatMap(opening => {
    const from = wordOf(opening, rules)?.seconds ?? 0
    return own(opening, rules).filter(({ what, seconds }) => (what === 'rest' || what === 'gone') && seconds >= from)
  })
  const bad = 'its last will is not set to be retained: a wall that starts later would know nothing'
  if (rests.some(({ retained }) => retained === false)) {
    causes.push(bad)
    return { name, result: 'failed', says: 'the rest word was published without the retain flag' }
  }
  if (rules.reports === 'openings' && words.some(({ what, retained }) => what === 'opened' && retained)) {
    causes.push(
      'its word is published retained: only the last will may be, or every new listener would hear an old opening',
    )
    return { name, result: 'failed', says: 'the opened word was published with the retain flag' }
  }
  if (
    rules.reports === 'both' &&
    words.some(({ what, retained }) => (what === 'opened' || what === 'closed') && retained === false)
  ) {
    causes.push(
      'its words are not published retained: a contact of both edges keeps its last edge at the broker, so that a wall that starts later knows it',
    )
    return { name, result: 'failed', says: 'a word of an edge was published without the retain flag' }
  }
  if (kept === undefined || rests.length === 0) return { name, result: 'not seen', says: 'no rest word came' }
  if (kept === rests.at(-1)!.text) return { name, result: 'passed', says: `a new listener is given ${quoted(kept)}` }
  causes.push(bad)
  return { name, result: 'failed', says: `a new listener is given ${kept === null ? 'nothing' : quoted(kept)}` }
}
