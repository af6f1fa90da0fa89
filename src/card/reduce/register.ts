import { houseOf } from '../state/house.ts'
import type { RegisterFound, RegisterStanding } from '../state/register.ts'
import { memoryOf, tallyOf } from '../state/shown.ts'
import { listen } from './link.ts'
import { writeDown } from './listening.ts'
import { openTally, takeRegister } from './tally.ts'
import { effect, set, type Turn } from './turn.ts'

/** Another address is asked: what was read before stays until its answer. */
export const askAgain = (turn: Turn): Turn =>
  turn.state.register.state === 'read' ? turn : set(turn, { register: { state: 'loading' } })

/** What came of looking for the register; the last good one holds until a newer one comes. */
export function registerFound(turn: Turn, found: RegisterFound, url: string): Turn {
  const { register: before } = turn.state
  if (found.state !== 'read') {
    if (before.state !== 'read') return listen(set(turn, { register: found }))
    // What was read from there before holds.
    if (found.state === 'unread' && before.url === url) return turn
    return listen(set(turn, { register: { ...before, trouble: found } }))
  }
  const { register } = found
  const standing: RegisterStanding = {
    state: 'read',
    register,
    house: houseOf(register),
    url,
  }
  const isSameTally = turn.state.tally.name === register.tally
  const after = set(isSameTally ? turn : writeDown(turn), { register: standing })
  return listen(recall(isSameTally ? takeRegister(after) : openTally(after)))
}

/** Looks up what this tablet keeps of the house, where it is another one. */
export function recall(turn: Turn): Turn {
  const { keeper, walk, listening, register } = turn.state
  const tally = tallyOf(turn.state)
  const house = memoryOf(turn.state)
  const isCounted = register.state === 'read' && listening.house !== tally
  const isKnown = keeper.tally === tally && walk.house === house && !isCounted
  return tally === '' || isKnown ? turn : effect(turn, { kind: 'recall', tally, house })
}
