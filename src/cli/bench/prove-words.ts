import { latestWill } from '../../protocol/last-will.ts'
import {
  type BenchSeen,
  type Check,
  one,
  own,
  type ProveRules,
  quoted,
  restOf,
  type SeenOpening,
  strayed,
  wordOf,
} from './prove-seen.ts'

export function firstWord({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'first word'
  for (const [index, opening] of openings.entries()) {
    const nth = openings.length > 1 ? ` of opening ${index + 1}` : ''
    const word = wordOf(opening, rules)
    if (word && word.seconds <= rules.firstWordSeconds) continue
    if (word) {
      causes.push(
        'a slow join: weak signal, or the scan and address request where a known channel and address were meant (wifi in the register); then a spent cell',
      )
      return {
        name,
        result: 'failed',
        says: `the first word${nth} came after ${one(word.seconds)}; the limit is ${one(rules.firstWordSeconds)} (${rules.firstWordRestsOn})`,
      }
    }
    const odd = own(opening, rules).find(({ what }) => what === 'odd')
    if (odd || strayed(opening, rules))
      return {
        name,
        result: 'failed',
        says: `the first word${nth} did not come as the register says; see topic and payload`,
      }
    if (restOf(opening, rules)) {
      causes.push(
        rules.power === 'cell'
          ? 'it draws more than the cell can give: it connected and browned out before its word got through; try a fresh cell, a shorter join, a reservoir'
          : 'it resets after it connected: its supply gives too little for the radio, or it publishes before it is connected',
        'it sleeps before the word is out: wait for the acknowledgement at QoS 1',
      )
      return {
        name,
        result: 'failed',
        says: `only the rest word came${nth}: it powered up and connected, and its word did not get through`,
      }
    }
    causes.push(
      'it has no power: cell, polarity, reed and magnet (most reeds must be of the form that closes without its magnet)',
      'it does not join: Wi-Fi name, password, 2.4 GHz',
      'it does not reach the broker: address, port, TLS, its account and password',
      ...(rules.heardHouse === false
        ? [
            'the account of this command may not read the contacts: some brokers take such a listener in and hand it nothing; not one word of the house was heard',
          ]
        : []),
      rules.power === 'cell'
        ? 'the cell is too weak to start it: try it at the bench'
        : 'the module refuses to start: about 1 in 10 does (common practice, from few modules)',
      `it publishes outside the topics that were listened to, instead of to ${rules.topic}`,
    )
    return {
      name,
      result: 'failed',
      says: `nothing came${nth} in ${one(2 * rules.firstWordSeconds + latestWill(rules.keepAliveSeconds))}`,
    }
  }
  if (openings.length === 0) return { name, result: 'not seen', says: 'no opening was watched' }
  const times = openings.map(opening => one(wordOf(opening, rules)!.seconds)).join(', ')
  return {
    name,
    result: 'passed',
    says: `after ${times}; the limit is ${one(rules.firstWordSeconds)} (${rules.firstWordRestsOn})`,
  }
}

export function topicCheck({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'topic'
  for (const opening of openings) {
    if (wordOf(opening, rules)) continue
    const stray = strayed(opening, rules)
    if (!stray) continue
    const other = rules.others.get(stray.topic)
    causes.unshift(
      other === undefined
        ? `it publishes to ${quoted(stray.topic)}, the register says ${quoted(rules.topic)}: flash its own header, or write this topic into the register`
        : `${other} spoke on ${quoted(stray.topic)}: this contact was flashed with the header of ${other}, or somebody opened or rehearsed ${other} meanwhile; try again when all is quiet`,
    )
    return { name, result: 'failed', says: `its word came on ${quoted(stray.topic)} instead of ${quoted(rules.topic)}` }
  }
  return openings.some(opening => spoken(opening, rules))
    ? { name, result: 'passed', says: rules.topic }
    : { name, result: 'not seen', says: 'no word came' }
}

/** Its word on its own topic, be it one that the register does not know. */
const spoken = (opening: SeenOpening, rules: ProveRules) =>
  wordOf(opening, rules) ?? own(opening, rules).find(({ what }) => what === 'odd')

export function payload({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'payload'
  for (const opening of openings) {
    const odd = own(opening, rules).find(({ what }) => what === 'odd')
    if (!odd) continue
    causes.push(
      `it says ${quoted(odd.text)}, the register says ${quoted(rules.opened)}: it holds an older header, or the register has a typing mistake`,
    )
    return {
      name,
      result: 'failed',
      says: `${quoted(odd.text)} is no word of the register (opened ${quoted(rules.opened)}, rest ${quoted(rules.rest)})`,
    }
  }
  const words = openings.flatMap(opening => wordOf(opening, rules) ?? [])
  const bare = rules.speaksJson ? words.find(({ text }) => !text.trimStart().startsWith('{')) : undefined
  if (bare) {
    causes.push('its payload is a plain word where the register says JSON: flash its own header, or take json out')
    return { name, result: 'failed', says: `${quoted(bare.text)} is plain, and the register says that it is JSON` }
  }
  return words.length > 0
    ? { name, result: 'passed', says: quoted(rules.opened) }
    : { name, result: 'not seen', says: 'no word came' }
}

export function qosCheck({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'QoS'
  const word = openings.map(opening => spoken(opening, rules)).find(found => found)
  if (!word) return { name, result: 'not seen', says: 'no word came' }
  if (Math.min(word.qos, 1) === Math.min(rules.qos, 1)) {
    return { name, result: 'passed', says: rules.qos === 0 ? 'QoS 0' : 'at least QoS 1, as far as a listener can see' }
  }
  causes.push(`it publishes at QoS ${word.qos}, the register says ${rules.qos}`)
  return { name, result: 'failed', says: `the word came at QoS ${word.qos}` }
}

export function revision({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'revision'
  const said = openings.flatMap(opening => own(opening, rules)).find(one => one.revision !== undefined)?.revision
  if (said === rules.revision) return { name, result: 'passed', says: said }
  if (said === undefined) {
    return {
      name,
      result: 'not seen',
      says: rules.speaksRevision ? 'its payload carried none' : 'a plain word carries none',
    }
  }
  causes.push(`it was flashed with revision ${said}, the register gives ${rules.revision}: flash it again`)
  return { name, result: 'failed', says: `it says ${said}, the register gives ${rules.revision}` }
}

export function quiet({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'quiet'
  // Without its own word, what came on nobody's topic is told there: it may be this contact's.
  const noise = openings.flatMap(opening =>
    opening.messages.filter(
      ({ topic }) => topic !== rules.topic && (wordOf(opening, rules) || rules.others.has(topic)),
    ),
  )[0]
  if (!noise) return { name, result: 'passed', says: 'nothing else spoke meanwhile' }
  const other = rules.others.get(noise.topic)
  causes.push(
    other === undefined
      ? `something published ${quoted(noise.text)} on ${quoted(noise.topic)} meanwhile: if it was this contact, it has a second topic`
      : `${other} spoke meanwhile: if nobody opened it, the two have been mixed up; try again when all is quiet`,
  )
  return { name, result: 'failed', says: `${quoted(noise.topic)} changed meanwhile` }
}
