import { boots, closing } from './prove-edges.ts'
import type { BenchSeen, ProveRules, Verdict } from './prove-seen.ts'
import { clientId, keptCheck, restWord } from './prove-will.ts'
import { firstWord, payload, qosCheck, quiet, revision, topicCheck } from './prove-words.ts'

/** Judges what was seen; pure. Causes come in the order in which they explain the most. */
export function verdictOf(seen: BenchSeen, rules: ProveRules): Verdict {
  const causes: string[] = []
  const checks = [
    firstWord(seen, rules, causes),
    topicCheck(seen, rules, causes),
    payload(seen, rules, causes),
    ...(rules.reports === 'both' ? [closing(seen, rules, causes)] : []),
    ...(rules.speaksBoots ? [boots(seen, rules, causes)] : []),
    restWord(seen, rules, causes),
    clientId(seen, rules, causes),
    keptCheck(seen, rules, causes),
    qosCheck(seen, rules, causes),
    revision(seen, rules, causes),
    quiet(seen, rules, causes),
  ]
  const joinMilliseconds = seen.openings.flatMap(({ messages }) => {
    const word = messages.find(({ what }) => what === 'opened')
    return word && word.topic === rules.topic ? [Math.round(word.seconds * 1000)] : []
  })
  const failed = checks.some(({ result }) => result === 'failed')
  const proved = !failed && joinMilliseconds.length === seen.openings.length && seen.openings.length > 0
  return { proved, checks, causes: [...new Set(causes)], joinMilliseconds }
}
