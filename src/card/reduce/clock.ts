import { lookAt, type WatchedClock, watchClock } from '../../house/clock.ts'
import { HOUR } from '../../text/time.ts'
import { ASLEEP_MILLISECONDS } from './listening.ts'
import { play } from './tally.ts'
import { change, effect, type Turn } from './turn.ts'

/** A jump stays on the sheet this long. */
const REMEMBER_MILLISECONDS = 12 * HOUR

/** Looks at the clock, once a second: whether the tablet slept or its clock was set meanwhile. */
export function lookAtClock(turn: Turn): Turn {
  const { now, elapsed, told } = turn.stamp
  const { at: before, watched: known = watchClock(told), jumped } = turn.state.clock
  const { clock: watched, stepMilliseconds } = lookAt(known, told)
  const slept = before > 0 && elapsed - before > ASLEEP_MILLISECONDS ? elapsed - before : 0
  const by = stepMilliseconds || slept
  const isOld = jumped && Math.abs(now - jumped.at) > REMEMBER_MILLISECONDS
  const looked = change(turn, 'clock', {
    at: elapsed,
    watched,
    jumped: by ? { at: now, by } : isOld ? undefined : jumped,
  })
  const found = by ? effect(looked, { kind: 'redial' }) : looked
  // Forward it may have been a sleep, which the new link finds: a clock that could be right is not taken for one that was set.
  const isSet = stepMilliseconds < 0 || (stepMilliseconds > 0 && known.isWrong)
  if (!isSet && watched.isWrong === known.isWrong) return found
  return tell(stepMilliseconds < 0 ? setBack(found, stepMilliseconds) : found, watched, stepMilliseconds)
}

/** A gap that began before the clock was set back must not look short by it. */
function setBack(turn: Turn, stepMilliseconds: number): Turn {
  const { until } = turn.state.listening
  return until === undefined ? turn : change(turn, 'listening', { until: until + stepMilliseconds })
}

/** The tally has been read: it goes by the clock of this page from now on. */
export function beginClock(turn: Turn): Turn {
  const { watched } = turn.state.clock
  return watched ? tell(turn, watched, 0) : turn
}

const tell = (turn: Turn, { isWrong }: WatchedClock, stepMilliseconds: number): Turn =>
  play(turn, { kind: 'clock', stepMilliseconds, isWrong, id: `${turn.stamp.id}c`, now: turn.stamp.now })
