import { watchClock } from '../../house/clock.ts'
import { MINUTE } from '../../text/time.ts'
import { hearsAll } from '../state/link.ts'
import { NAMES } from '../state/memory.ts'
import { keeps } from '../state/tally.ts'
import { miss } from './tally.ts'
import { change, effect, type Turn } from './turn.ts'

/** Until when this tablet listened is written down this often, and when the page ends, milliseconds. */
const WRITE_MILLISECONDS = MINUTE
/**
 * A page that is not run for this long was asleep, and heard nothing: hidden pages are run at least once a minute. So
 * long, and not only for one and a half keep-alives of 30 s, may one have been deaf whose link is found dead.
 */
export const ASLEEP_MILLISECONDS = 90_000

const timeOf = (text: string | undefined): number | undefined => {
  const time = Number(text ?? Number.NaN)
  return Number.isFinite(time) ? time : undefined
}

/** @param listened - until when this tablet listened to the house, as it was kept */
export function useHouse(turn: Turn, house: string, listened: string | undefined): Turn {
  if (house === turn.state.listening.house) return turn
  const until = timeOf(listened)
  const heard = change(writeDown(turn), 'listening', { house, since: undefined, until })
  const after = change(heard, 'clock', { watched: watchClock(turn.stamp.told, until) })
  // The link stands already, for another house's tally.
  return hearsAll(after.state.link) ? beginListening(after) : after
}

/** The link to the contacts came up or went down. */
export function linkTurned(turn: Turn, didHear: boolean): Turn {
  const hears = hearsAll(turn.state.link)
  if (turn.state.listening.house === undefined || hears === didHear) return turn
  return hears ? beginListening(turn) : endListening(turn)
}

function beginListening(turn: Turn): Turn {
  const { listening, tally } = turn.state
  const { now } = turn.stamp
  // Where another page keeps the tally, it listened to all before this one's first link.
  const isGap = listening.since !== undefined || keeps(tally)
  const after = isGap ? miss(turn, { from: listening.until, to: now }) : turn
  return writeDown(change(after, 'listening', { since: now, until: now }))
}

/** A link that is found dead may have been deaf for as long as a page sleeps unnoticed. */
export function endListening(turn: Turn): Turn {
  const { now } = turn.stamp
  const { until } = turn.state.listening
  return writeDown(change(turn, 'listening', { until: Math.min(until ?? now, now - ASLEEP_MILLISECONDS) }))
}

/**
 * This page keeps the tally from now on: what the one before it did not hear, and this one neither, was a gap.
 * @param listened - until when that one listened, as it was kept
 */
export function takeOver(turn: Turn, listened: string | undefined): Turn {
  const { house, since, until } = turn.state.listening
  if (house === undefined || since === undefined) return turn
  const before = timeOf(listened)
  const after = before === undefined || before < since ? miss(turn, { from: before, to: since }) : turn
  const isDeaf = !hearsAll(turn.state.link) && before !== undefined
  return writeDown(isDeaf ? change(after, 'listening', { until: Math.max(until ?? before, before) }) : after)
}

/** Once a second. */
export function listenOn(turn: Turn): Turn {
  const { link, listening } = turn.state
  if (!hearsAll(link)) return turn
  const { now } = turn.stamp
  const after = listened(turn)
  return Math.abs(now - listening.writtenAt) >= WRITE_MILLISECONDS ? writeDown(after) : after
}

/** After a sleep nothing was heard until the link has been made anew. */
function listened(turn: Turn): Turn {
  const { until } = turn.state.listening
  const { now } = turn.stamp
  return until === undefined || now - until < ASLEEP_MILLISECONDS ? change(turn, 'listening', { until: now }) : turn
}

export function writeDown(turn: Turn): Turn {
  const { listening, tally, link } = turn.state
  if (listening.house === undefined || listening.until === undefined || !keeps(tally)) return turn
  const after = change(hearsAll(link) ? listened(turn) : turn, 'listening', { writtenAt: turn.stamp.now })
  const { house, until } = after.state.listening
  return effect(after, { kind: 'remember', name: NAMES.listened(house!), text: String(until) })
}
