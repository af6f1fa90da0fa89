import { doubtfulFrom, lookAt, watchClock } from '../../house/clock.ts'
import { HOUR } from '../../text/time.ts'
import { clocksOf } from '../state/clock.ts'
import { ASLEEP_MILLISECONDS } from './listening.ts'
import { play } from './tally.ts'
import { change, effect, type Turn } from './turn.ts'

/** A jump stays on the sheet this long. */
const REMEMBER_MILLISECONDS = 12 * HOUR

/** Looks at the clock, once a second: whether the tablet slept or its clock was set meanwhile. */
export function lookAtClock(turn: Turn): Turn {
  const { at: before, watched: known, jumped } = turn.state.clock
  const { now, id } = turn.stamp
  const clocks = clocksOf(turn.stamp)
  if (!known) return change(turn, 'clock', { at: now, watched: watchClock(clocks) })
  const { clock: watched, stepMilliseconds } = lookAt(known, clocks)
  const isOld = jumped && Math.abs(now - jumped.at) > REMEMBER_MILLISECONDS
  const looked = change(turn, 'clock', { at: now, watched, ...(isOld ? { jumped: undefined } : {}) })
  const by = stepMilliseconds || (now - before > ASLEEP_MILLISECONDS ? now - before : 0)
  const found = by ? effect(change(looked, 'clock', { jumped: { at: now, by } }), { kind: 'redial' }) : looked
  if (!stepMilliseconds && watched.isWrong === known.isWrong) return found
  return play(found, { kind: 'clock', stepMilliseconds, isWrong: watched.isWrong, id: `${id}c`, now })
}

/** The tally has been read: it goes by the clock of this page from now on. */
export function beginClock(turn: Turn): Turn {
  const { clock, joinedAt } = turn.state
  const { watched } = clock
  if (!watched) return turn
  const { now, id } = turn.stamp
  const from = doubtfulFrom(watched, clocksOf(turn.stamp), joinedAt)
  return play(turn, { kind: 'clock', stepMilliseconds: 0, isWrong: watched.isWrong, from, id: `${id}c`, now })
}
