/** What the person at the wall has chosen to see. */
import { HOUR, MINUTE } from '../../text/time.ts'
import { idleFor, type View } from '../state/chosen.ts'
import { untickAll } from './deeds.ts'
import { holdLook } from './look.ts'
import { change, effect, type Turn } from './turn.ts'

/** A sheet that nobody touched for this long goes back to the house. */
const IDLE_MILLISECONDS = 10 * MINUTE
const HALF_DAY = 12 * HOUR
/** A sheet that nobody touches turns its pages itself. */
const STILL_MILLISECONDS = MINUTE
const TURN_MILLISECONDS = 12_000

/** The heading of what was opened. */
const PANEL = ['.panel h2'] as const

export function touch(turn: Turn): Turn {
  const { page, turned } = turn.state.chosen
  // The page that was turned to by itself stays: what is under the finger must not change.
  const touched = { page: page + turned, turned: 0, touchedAt: turn.stamp.now, isLeft: false }
  return holdLook(change(turn, 'chosen', touched))
}

export function show(turn: Turn, view: View): Turn {
  const { sinceHome } = turn.state.chosen
  const isHome = view === 'while-out'
  return change(turn, 'chosen', { view, sinceHome: isHome ? (sinceHome ?? turn.stamp.now - HALF_DAY) : sinceHome })
}

/** Once a second: pages turn, and a sheet that was left goes back to the house. */
export function leaveIdle(turn: Turn, mayTurn: boolean): Turn {
  const { now } = turn.stamp
  const { chosen, attributes } = turn.state
  const idle = idleFor(chosen, now)
  const turned = mayTurn && idle > STILL_MILLISECONDS ? Math.floor(now / TURN_MILLISECONDS) : 0
  const after = chosen.turned === turned ? turn : change(turn, 'chosen', { turned })
  if (idle <= IDLE_MILLISECONDS || chosen.view === 'round' || chosen.isLeft) return after
  const { sort, view } = attributes
  const left = change(after, 'chosen', {
    told: undefined,
    typed: '',
    sinceHome: undefined,
    sort,
    page: 0,
    isLeft: true,
  })
  return effect(show(untickAll(left), view), { kind: 'put-back' })
}

/** The house as the attribute wants it shown: what one comes back to. */
function homeView({ state: { attributes } }: Turn): View {
  return attributes.view === 'schedule' || attributes.view === 'elevations' ? attributes.view : 'sheet'
}

/**
 * A person turns to another view.
 * @param from - what is to have the focus at the house: the first that is seen; default: the way that led away from it
 */
export function turnTo(turn: Turn, view: View, from?: readonly string[]): Turn {
  const left = turn.state.chosen.view
  const home = homeView(turn)
  const shown = change(show(turn, view === 'sheet' ? home : view), 'chosen', { told: undefined })
  const isHome = shown.state.chosen.view === home
  const selectors = isHome ? (from ?? [`.acts [data-way="${left}"]`, '.headline']) : PANEL
  return focusOn(holdLook(untickAll(shown)), selectors)
}

/** Opens the story of an opening. @param fromPlan - from the drawing */
export function openStory(turn: Turn, mark: string, fromPlan: boolean): Turn {
  const told = change(turn, 'chosen', { told: mark, isFromPlan: fromPlan })
  return focusOn(told, PANEL)
}

export function leaveStory(turn: Turn): Turn {
  const { told } = turn.state.chosen
  return told === undefined ? turn : focusOn(change(turn, 'chosen', { told: undefined }), rowOf(turn, told))
}

/** From a panel to the house. */
export function goBack(turn: Turn): Turn {
  const { told } = turn.state.chosen
  return turnTo(turn, 'sheet', told === undefined ? undefined : rowOf(turn, told))
}

export function stepBack(turn: Turn): Turn {
  const { chosen, attributes } = turn.state
  if (chosen.told !== undefined) return leaveStory(turn)
  return chosen.view === attributes.view ? turn : turnTo(turn, attributes.view)
}

export const focusOn = (turn: Turn, selectors: readonly string[] = PANEL): Turn =>
  effect(turn, { kind: 'focus', selectors })

/** Where a story was opened. */
function rowOf({ state: { chosen } }: Turn, mark: string): readonly string[] {
  const quoted = `[data-mark="${mark.replace(/["\\]/g, '\\$&')}"]`
  const ways = [`.more${quoted}`, `.row-open${quoted}`, `.opening${quoted}`]
  return chosen.isFromPlan ? ways.reverse() : ways
}
