import type { LinkState } from '../../protocol/feed.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { hearsAll, isLive, type LinkOff, type LinkStanding } from '../state/link.ts'
import { brokerOf, tallyOf, topicsOf } from '../state/shown.ts'
import { ASLEEP_MILLISECONDS, linkTurned } from './listening.ts'
import { change, effect, type Turn } from './turn.ts'

/** Who is listened to now: asked for whenever register, attributes or account changed. */
export function listen(turn: Turn): Turn {
  const { register } = turn.state
  const tally = tallyOf(turn.state)
  // Without a register or a tally there is nothing to listen to.
  if (register.state !== 'read' && !tally) return turn
  const { keeper, register: house, filters } = tallyTopics(tally)
  const ofKeeper = tally ? [house, keeper, filters.openings, filters.stories, filters.answers] : []
  const all = [...topicsOf(turn.state), ...ofKeeper]
  return effect(turn, { kind: 'listen', broker: brokerOf(turn.state), tally, filters: all })
}

/** What the link tells of itself. */
export function linkChanged(turn: Turn, told: LinkState | LinkOff): Turn {
  const { link } = turn.state
  const standing = told.state === 'off' ? told : partly(told, link.standing)
  const stands = standing.state === 'live'
  const after = change(turn, 'link', {
    standing,
    liveSince: stands ? (link.liveSince ?? standing.since) : undefined,
    // It has just said so, however long the page slept before.
    liveAt: told.state === 'live' ? turn.stamp.now : link.liveAt,
  })
  // A link that broke may have missed the keeper's end: only a beat after it counts.
  const beatless = stands ? after : change(after, 'keeper', { beat: undefined })
  return effect(linkTurned(beatless, hearsAll(link)), { kind: 'link-changed', standing })
}

/** Refused after the link had come up: one filter was, the others are heard. */
function partly(told: LinkState, before: LinkStanding): LinkStanding {
  if (told.state !== 'refused' || before.state !== 'live') return told
  return { ...before, partial: told.why, unreadable: [...(before.unreadable ?? []), ...(told.filters ?? [])] }
}

/** While the link is live, and the page has not slept since, what is shown is known to be so. */
export function knowLive(turn: Turn): Turn {
  const { link } = turn.state
  const { now } = turn.stamp
  if (!isLive(link)) return turn
  const slept = link.liveAt !== undefined && now - link.liveAt >= ASLEEP_MILLISECONDS
  return slept ? turn : change(turn, 'link', { liveAt: now })
}
