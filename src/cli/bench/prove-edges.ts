import { type BenchSeen, type Check, CLOSING_SECONDS, own, type ProveRules, quoted, wordOf } from './prove-seen.ts'

/** The other edge of a contact that reports both. */
export function closing({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'closing'
  const natural = openings.filter(opening => opening.takenOverAt === undefined && wordOf(opening, rules))
  if (natural.length === 0) return { name, result: 'not seen', says: 'no opening was left to its end' }
  const without = natural.find(opening => {
    const { seconds } = wordOf(opening, rules)!
    return !own(opening, rules).some(one => one.what === 'closed' && one.seconds >= seconds)
  })
  if (!without) return { name, result: 'passed', says: quoted(rules.closed ?? '') }
  causes.push(
    'nobody shut it: try again',
    'it reports openings only: say reports: openings in the register, or it would be shown open until it is opened again',
    'its reed does not change back: move the magnet nearer',
  )
  return { name, result: 'failed', says: `no closed word within ${CLOSING_SECONDS} s of the opened word` }
}

/** A boot count that stands still makes the next opening look like a repeat of the last. */
export function boots({ openings }: BenchSeen, rules: ProveRules, causes: string[]): Check {
  const name = 'boots'
  const words = openings.flatMap(opening => wordOf(opening, rules) ?? [])
  if (words.length === 0) return { name, result: 'not seen', says: 'no word came' }
  const counts = words.flatMap(word => word.boots ?? [])
  if (counts.length < words.length) {
    causes.push(
      'its payload carries no boot count where the register names one: openings would be told apart by time alone',
    )
    return { name, result: 'failed', says: 'a word carried no boot count' }
  }
  // A contact of both edges stays connected: one boot lasts for many words.
  const same = rules.reports === 'openings' && counts.some((count, index) => index > 0 && count === counts[index - 1])
  if (same) {
    causes.push(
      'its boot count is not kept over the boots: keep it where it survives the loss of power, or take boots out of the register',
    )
    return {
      name,
      result: 'failed',
      says: `it counts ${counts.join(', ')}: the tally takes an equal count for the same opening`,
    }
  }
  if (counts.length < 2)
    return {
      name,
      result: 'not seen',
      says: `it counts ${counts[0]}; that it counts on is seen in two openings or more`,
    }
  return { name, result: 'passed', says: `it counts ${counts.join(', ')}` }
}
