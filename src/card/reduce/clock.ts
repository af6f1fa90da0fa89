import { HOUR } from '../../text/time.ts'
import { ASLEEP_MILLISECONDS } from './listening.ts'
import { play } from './tally.ts'
import { change, effect, type Turn } from './turn.ts'

/** A clock that runs apart from the page's own timer by this much has been set, or the tablet slept. */
const JUMP_MILLISECONDS = 5_000
/** A jump stays on the sheet this long. */
const REMEMBER_MILLISECONDS = 12 * HOUR

/** Looks at the clock, once a second: whether the tablet slept or its clock was set meanwhile. */
export function lookAtClock(turn: Turn): Turn {
  const { at: before, offset: known, jumped } = turn.state.clock
  const { now, elapsed } = turn.stamp
  const offset = now - elapsed
  const by = known === undefined ? 0 : offset - known
  const isSet = Math.abs(by) > JUMP_MILLISECONDS
  if (known !== undefined && (isSet || now - before > ASLEEP_MILLISECONDS)) {
    const found = { at: now, by: isSet ? by : now - before }
    const after = effect(change(turn, 'clock', { at: now, offset, jumped: found }), { kind: 'redial' })
    // Forward it may have been a sleep, which the new link finds.
    return by < 0 && isSet ? play(after, { kind: 'clock', stepMilliseconds: by, id: `${turn.stamp.id}c`, now }) : after
  }
  const isOld = jumped && Math.abs(now - jumped.at) > REMEMBER_MILLISECONDS
  return change(turn, 'clock', { at: now, offset, ...(isOld ? { jumped: undefined } : {}) })
}
