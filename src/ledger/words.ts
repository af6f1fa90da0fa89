import type { Entry } from '../protocol/entry.ts'
import { willSeconds } from '../protocol/last-will.ts'
import type { Policy } from '../protocol/policy.ts'
import { bootOf, isBehind, sendsByBoot, withBoot } from './boots.ts'
import { AFTER_WAIT, changed, type Fold, ODD_TEXT, untilOf, willFloor, willWait } from './fold.ts'

/** What one word of the contact, or its last will, changes. */
export function foldWord(fold: Fold, entry: Entry, policy: Policy): Fold {
  if (bootOf(fold, entry, policy) === 'again') return fold
  const heard: { -readonly [K in keyof Fold]: Fold[K] } = { ...fold, last: lastOf(entry) }
  if (entry.millivolts !== undefined) heard.millivolts = entry.millivolts
  if (entry.revision !== undefined) heard.revision = entry.revision
  if (entry.how !== 'retained') heard.firstWordAt ??= Date.parse(entry.at)
  if (entry.how === 'retained') return foldRetained(heard, entry, policy)
  switch (entry.what) {
    case 'opened':
      return policy.reports === 'both' ? foldEdge(heard, entry, policy, 'opened') : foldOpened(heard, entry, policy)
    case 'closed':
      return foldEdge(heard, entry, policy, 'closed')
    case 'rest':
      // The will of a contact of both edges is `gone`; a rest word comes from the time before its sender changed.
      return policy.reports === 'both' ? heard : foldRest(heard, entry, policy)
    default:
      return { ...heard, silent: true }
  }
}

const lastOf = ({ at, until, what: word, how }: Entry): NonNullable<Fold['last']> =>
  until === undefined ? { at, word, how } : { at, until, word, how }

/** A word that the register does not know is counted and shown, and is never an opening; it may have meant one. */
export function foldOdd(fold: Fold, entry: Entry): Fold {
  const text = (entry.text ?? '').slice(0, ODD_TEXT)
  const odd = { count: (fold.odd?.count ?? 0) + 1, text, at: entry.at }
  const isDoubtful = fold.state === 'closed' && entry.how !== 'retained'
  return isDoubtful ? { ...fold, odd, unheardAt: fold.unheardAt ?? Date.parse(entry.at) } : { ...fold, odd }
}

/** A copy that the broker kept sets what is known; such a copy proves nothing and counts nothing. */
function foldRetained(fold: Fold, entry: Entry, policy: Policy): Fold {
  if (entry.what === 'gone') return { ...fold, silent: true }
  if (entry.what === 'rest') {
    const waited = Date.parse(entry.at) - (fold.wordAt ?? Number.NEGATIVE_INFINITY)
    return fold.awaitsRest && waited >= willFloor(policy) ? { ...fold, awaitsRest: false, rested: true } : fold
  }
  const edge = entry.what === 'closed' ? 'closed' : 'opened'
  if (policy.reports === 'both') {
    // The copy confirms what the contact says, not what somebody saw against it.
    const unheardAt = fold.edge === edge && fold.state !== edge ? fold.unheardAt : undefined
    const isKnown = fold.edge === edge
    return changed(fold, {
      silent: false,
      unheardAt,
      ...(isKnown ? {} : { edge, state: edge, since: undefined, sinceUntil: undefined, bySight: undefined }),
    })
  }
  return fold.state === 'none' ? { ...fold, state: edge } : fold
}

function foldOpened(fold: Fold, entry: Entry, policy: Policy): Fold {
  const at = Date.parse(entry.at)
  const queued = entry.how === 'queued'
  const latest = untilOf(entry)
  const gap = queued || fold.wordAt === undefined ? Number.POSITIVE_INFINITY : Math.abs(at - fold.wordAt)
  const followsLoneRest = !queued && fold.loneRestAt !== undefined && isTry(at - fold.loneRestAt, policy)
  // on mains one boot lasts for months
  const sameBoot = policy.power === 'cell' && entry.boots !== undefined && entry.boots === fold.boots
  const sameOpening =
    fold.openings > 0 && (isBounce(gap, policy) || isRepeat(gap, policy) || followsLoneRest || sameBoot)
  const sent = sendsOf(fold, entry, policy, followsLoneRest ? Number.POSITIVE_INFINITY : gap)
  const sends = fold.sends + sent
  return changed(fold, {
    state: 'opened',
    ...beginning(fold, sameOpening && fold.state === 'opened', at, latest),
    openings: fold.openings + (sameOpening ? 0 : 1),
    sends,
    sendsThrough: sends,
    ...withBoot(fold, entry, policy, sent),
    wordAt: queued ? undefined : at,
    openedAt: latest === undefined ? at : (latest ?? undefined),
    awaitsRest: true,
    rested: false,
    loneRestAt: undefined,
    faint: false,
    silent: false,
    spent: false,
    provenAt: provenBy(fold, at, queued),
    unheardOnWalk: undefined,
  })
}

function foldRest(fold: Fold, entry: Entry, policy: Policy): Fold {
  const at = Date.parse(entry.at)
  const queued = entry.how === 'queued'
  const latest = untilOf(entry)
  const waited = queued || fold.wordAt === undefined ? undefined : at - fold.wordAt
  const tooLate = fold.openedAt !== undefined && at - fold.openedAt > willWait(policy) + AFTER_WAIT
  if (fold.awaitsRest && !tooLate) {
    return waited !== undefined && isTakeover(waited, policy) ? fold : { ...fold, awaitsRest: false, rested: true }
  }
  const opened = at - willSeconds(policy.keepAliveSeconds) * 1000
  const gap = queued || fold.wordAt === undefined ? Number.POSITIVE_INFINITY : Math.abs(opened - fold.wordAt)
  const sameOpening = fold.openings > 0 && isBounce(gap, policy)
  const live = (entry.linkLiveSeconds ?? 0) * 1000
  // A word did get through, if none that the register knows.
  const wasOdd = fold.odd !== undefined && isTry(opened - Date.parse(fold.odd.at), policy)
  const sent = sendsOf(fold, entry, policy, gap)
  return changed(fold, {
    state: 'opened',
    ...beginning(fold, sameOpening && fold.state === 'opened', opened, latest),
    openings: fold.openings + (sameOpening ? 0 : 1),
    sends: fold.sends + sent,
    sendsSinceBoots: fold.sendsSinceBoots + sent,
    wordAt: queued ? undefined : opened,
    openedAt: latest === undefined ? opened : (latest ?? undefined),
    awaitsRest: false,
    rested: true,
    loneRestAt: queued ? undefined : at,
    faint: fold.faint || (!queued && !wasOdd && live >= policy.bootSeconds * 1000 + willWait(policy)),
  })
}

/** Both edges are reported: the position is the last edge, bounce merges counts only. */
function foldEdge(fold: Fold, entry: Entry, policy: Policy, edge: 'opened' | 'closed'): Fold {
  const at = Date.parse(entry.at)
  const latest = untilOf(entry)
  const hasToldMore = isBehind(bootOf(fold, entry, policy)) && (edge === 'closed' || fold.edge === edge)
  if (fold.silent && fold.edge === edge && !hasToldMore)
    return changed(fold, {
      silent: false,
      unheardAt: undefined,
      state: edge,
      ...(fold.state === edge ? {} : { since: at, sinceUntil: latest }),
      bySight: fold.state === edge ? fold.bySight : undefined,
    })
  const stays = fold.edge === edge && fold.state === edge
  const queued = entry.how === 'queued'
  const gap = queued || fold.wordAt === undefined ? Number.POSITIVE_INFINITY : Math.abs(at - fold.wordAt)
  const bounced = fold.openings > 0 && isBounce(gap, policy)
  const counts = edge === 'opened' && !bounced && !(fold.edge === edge && isRepeat(gap, policy))
  const sent = sendsOf(fold, entry, policy, gap)
  const sends = fold.sends + sent
  const openings = fold.openings + (counts ? 1 : 0)
  if (hasToldMore) return changed(fold, { openings, sends, ...withBoot(fold, entry, policy, sent) })
  return changed(fold, {
    edge,
    state: edge,
    ...beginning(fold, stays, at, latest),
    bySight: stays ? fold.bySight : undefined,
    openings,
    sends,
    sendsThrough: sends,
    ...withBoot(fold, entry, policy, sent),
    wordAt: queued ? undefined : at,
    openedAt: edge === 'opened' ? (latest === null ? undefined : at) : fold.openedAt,
    // It may be the word of before the contact said that it is open.
    unheardAt: edge === 'closed' && fold.edge === 'opened' && entry.maybeAgain ? at : undefined,
    silent: false,
    faint: false,
    spent: false,
    provenAt: provenBy(fold, at, queued),
    unheardOnWalk: undefined,
  })
}

/** Since when the position holds: `stays` is one that held before. */
const beginning = (fold: Fold, stays: boolean, since: number, sinceUntil: Fold['sinceUntil']) =>
  stays && fold.since !== undefined ? {} : { since, sinceUntil }

/** True when two signs of a module stand no farther apart than those of one try. */
const isTry = (apartMilliseconds: number, { bootSeconds }: Policy): boolean =>
  Math.abs(apartMilliseconds) <= (bootSeconds + 2) * 1000

/** True when a word came so soon after the last that both are one opening. */
const isBounce = (gapMilliseconds: number, { bounceSeconds }: Policy): boolean => gapMilliseconds < bounceSeconds * 1000

/** True when a word came as long after the last as the module repeats itself while it is open. */
const isRepeat = (gapMilliseconds: number, { repeatSeconds }: Policy): boolean =>
  repeatSeconds !== undefined && Math.abs(gapMilliseconds - repeatSeconds * 1000) <= repeatSeconds * 50

/** A queued word counts at its earliest time; what was proven after that stays proven. */
const provenBy = (fold: Fold, at: number, queued: boolean): number => (queued ? Math.max(at, fold.provenAt ?? at) : at)

/** True when a rest word came before the keep-alive can have run out: another client took the id. */
export const isTakeover = (waitedMilliseconds: number, policy: Policy): boolean =>
  waitedMilliseconds >= 0 && waitedMilliseconds < willFloor(policy)

/**
 * Sends that one word stands for. A boot count decides where there is one: an equal count is the same boot,
 * a gap is sends that nobody heard. Without it, words closer together than the boot time are one send.
 */
function sendsOf(fold: Fold, entry: Entry, policy: Policy, gapMilliseconds: number): number {
  if (policy.power !== 'cell') return 0
  if (entry.sends !== undefined) return entry.sends
  const boot = bootOf(fold, entry, policy)
  if (boot === undefined) return gapMilliseconds < policy.bootSeconds * 1000 ? 0 : 1
  return sendsByBoot(fold, entry.boots!, boot)
}
