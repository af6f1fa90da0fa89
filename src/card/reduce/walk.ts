import { type Round, type RoundReport, reportRound, roundEntries, tickRound } from '../../ledger/round.ts'
import type { Entry } from '../../protocol/entry.ts'
import { HOUR, iso } from '../../text/time.ts'
import type { CardHouse } from '../state/house.ts'
import { reportIn, walkIn } from '../state/kept.ts'
import { type Memory, NAMES } from '../state/memory.ts'
import { type KeptRound, noWalk } from '../state/walk.ts'
import { change, effect, type Turn } from './turn.ts'

/** What was begun longer ago was left, not walked. */
const LONGEST_WALK_MILLISECONDS = 12 * HOUR

/**
 * Takes up what is kept of a house. A walk that is under way goes on, and is kept under the new name, where its house
 * has moved: the tally is the same, and one node of the broker. Another house may have that tally at another broker.
 * @param memory - what is kept of `house`
 */
export function useWalk(turn: Turn, tally: string, house: string, { walk: kept, report }: Memory): Turn {
  const { walk } = turn.state
  if (walk.house === house) return turn
  const nodesOf = (name: string): readonly string[] => name.slice(tally.length + 1).split(' ')
  const hasMoved = walk.tally === tally && nodesOf(walk.house).some(node => nodesOf(house).includes(node))
  const moved = hasMoved && walk.round ? JSON.stringify(walk.round) : undefined
  const next = change(turn, 'walk', { ...noWalk, tally, house, unread: { walk: moved ?? kept, report } })
  if (!moved) return next
  const rename = { kind: 'remember', inPage: true } as const
  return effect(
    next,
    { ...rename, name: NAMES.walk(walk.house), text: undefined },
    { ...rename, name: NAMES.walk(house), text: moved },
  )
}

/** Looks at what was kept, now that the house is known: a walk that was under way goes on, and is shown. */
export function recallWalk(turn: Turn, house: CardHouse | undefined): Turn {
  const { unread } = turn.state.walk
  if (!unread || !house) return turn
  const marks = new Set(house.openings.map(({ mark }) => mark))
  const walk = readWalk(unread.walk, marks)
  const isUnderWay = walk && Math.abs(turn.stamp.now - Date.parse(walk.startedAt)) < LONGEST_WALK_MILLISECONDS
  const round = isUnderWay ? walk : undefined
  const after = change(turn, 'walk', { unread: undefined, round, last: reportIn(unread.report) })
  return round ? change(after, 'chosen', { view: 'round' }) : after
}

/** Ticks the opening that was heard live. */
export function walkOn(turn: Turn, entry: Entry): Turn {
  const { round, ended, last } = turn.state.walk
  const walk = round ?? ended
  const next = walk && tickRound(walk, entry)
  if (!next || next === walk) return turn
  if (round) return keepWalk(turn, next)
  // What was taken back does not stand in the report either.
  return last && entry.what === 'undone' ? keepReport(turn, next, last.at) : turn
}

/** A phone that goes into the pocket between two windows may drop the page. */
export function keepWalk(turn: Turn, round: Round | undefined): Turn {
  const name = NAMES.walk(turn.state.walk.house)
  const text = round ? JSON.stringify(round) : ''
  return effect(change(turn, 'walk', { round }), { kind: 'remember', name, text, inPage: true })
}

/** Ends the walk: its report stays. @returns with what it leaves in the tally */
export function endWalk(turn: Turn): readonly [Turn, readonly Entry[]] {
  const { round } = turn.state.walk
  if (!round) return [turn, []]
  const at = iso(turn.stamp.now)
  const ids = new Map(round.steps.map(({ mark }, index) => [mark, `${turn.stamp.id}-${index}`]))
  const entries = roundEntries(round, at, mark => ids.get(mark)!)
  return [keepReport(keepWalk(turn, undefined), round, at), entries]
}

function keepReport(turn: Turn, ended: Round, at: string): Turn {
  const { heard, leftOut, missing, failed, notReached } = reportRound(ended)
  const marks = (steps: RoundReport['heard']) => steps.map(({ mark }) => mark)
  const last: KeptRound = {
    at,
    heard: marks(heard),
    leftOut: marks(leftOut),
    missing: marks(missing),
    failed: marks(failed),
    notReached: marks(notReached),
  }
  const name = NAMES.walk(turn.state.walk.house)
  return effect(change(turn, 'walk', { ended, last }), { kind: 'remember', name, text: JSON.stringify(last) })
}

function readWalk(text: string | undefined, marks: ReadonlySet<string>): Round | undefined {
  const walk = walkIn(text)
  return walk?.steps.every(step => marks.has(step.mark)) ? walk : undefined
}
