/** Says on their way to the keeper or into this tablet's own tally, until each of them is answered. */

import { type Answer, NO_ANSWER, sayMessage, takeAnswer, waitedFor } from '../../house/asked.ts'
import { iso } from '../../text/time.ts'
import { type Asking, type Deed, isOpenWay, marksOf, type Sending, sendingMarks } from '../state/deeds.ts'
import type { CardEffect } from '../state/effect.ts'
import { wayOf } from '../state/shown.ts'
import { askingOf, partsOf, unsaid, without } from './deed-parts.ts'
import { note } from './tally.ts'
import { change, each, effect, type Turn } from './turn.ts'

type Unsent = Omit<Sending, 'way' | 'answers'>

/** Says it of each opening; with a keeper it holds only where the keeper has answered. */
export function send(turn: Turn, unsent: Unsent): Turn {
  const way = wayOf(turn.state, turn.stamp)
  // What went into this tablet's own tally is taken back there, what a keeper noted by the keeper alone.
  const goes = unsent.kind === 'undo' ? (unsent.deed.way === 'own' ? 'own' : 'keeper') : way
  if (!isOpenWay(goes)) return settle(turn, unsent, [unsaid(unsent, goes)])
  if (unsent.kind === 'undo' && goes === 'keeper' && way !== 'keeper') {
    return settle(turn, unsent, [unsaid(unsent, way === 'own' ? 'keeperUnheard' : way)])
  }
  const { asking } = unsent
  if (goes === 'own') {
    const answers = new Map(asking.map(({ say }): [string, Answer] => [say.id, { ok: true }]))
    return settle(noteHere(turn, asking), unsent, partsOf({ ...unsent, way: goes, answers }))
  }
  const publish = asking.map(
    ({ say, said: { mark } }): CardEffect => ({
      kind: 'publish',
      id: say.id,
      ...sayMessage(turn.state.keeper.tally, mark, say),
    }),
  )
  const waits = setSending(turn, [...turn.state.deeds.sending, { ...unsent, way: goes, answers: new Map() }])
  return effect(waits, ...publish, { kind: 'await-answers', ids: asking.map(({ say }) => say.id) })
}

/** The keeper's answer to a say; one that nobody waits for any more may tell that the say was noted after all. */
export function answered(turn: Turn, id: string, answer: Answer): Turn {
  const taken = takeAnswer(turn.state.deeds.sending, id, answer)
  if (!taken) return answer.ok ? answeredLate(turn, id) : turn
  const { group, isWhole, waiting } = taken
  const noted = answer.ok ? noteHere(turn, [askingOf(group, id)!]) : turn
  const after = setSending(noted, waiting)
  return isWhole ? settle(after, group, partsOf(group)) : after
}

/** These were not taken by the broker, or not answered in time. */
export const unanswered = (turn: Turn, ids: readonly string[], answer = NO_ANSWER): Turn =>
  each(turn, ids, (now, id) => answered(now, id, answer))

/** Nothing that is on its way is waited for any more. */
export const waitNoLonger = (turn: Turn): Turn => unanswered(turn, waitedFor(turn.state.deeds.sending))

const setSending = (turn: Turn, sending: readonly Sending[]): Turn => change(turn, 'deeds', { sending })

const noteHere = (turn: Turn, asking: readonly Asking[]): Turn =>
  note(
    turn,
    asking.map(({ entry }) => ({ ...entry, at: iso(turn.stamp.now) })),
  )

/** What had no answer in time was noted all the same. */
function answeredLate(turn: Turn, id: string): Turn {
  const { earlier, ticked } = turn.state.deeds
  const isHers = (each: { readonly id: string }) => each.id === id
  const deed = earlier.find(({ state, isUndo, said }) => state === 'failed' && !isUndo && said.some(isHers))
  const one = deed?.said.find(isHers)
  if (!deed || !one) return turn
  const { what } = deed
  const { mark } = one
  const { now } = turn.stamp
  const said = deed.said.filter(each => each !== one)
  const noted: Deed = { ...deed, state: 'noted', said: [one], at: now }
  const rest = said.length > 0 ? [{ ...deed, said, lost: marksOf({ said }) }] : []
  const after = change(turn, 'deeds', {
    earlier: earlier.flatMap(each => (each === deed ? [noted, ...rest] : [each])),
    ticked: what === 'seen-closed' ? new Set([...ticked, mark]) : ticked,
  })
  return note(after, [{ id, at: iso(now), mark, what, how: 'live' }])
}

/** What came of it: told, and unticked where it was not taken or was taken back. */
function settle(turn: Turn, { kind, deed }: Unsent, parts: readonly Deed[]): Turn {
  if (kind === 'round') return each(turn, parts, fail)
  const told = takeParts(turn, deed, parts)
  if (kind === 'say') {
    return untick(
      told,
      parts.flatMap(({ lost = [] }) => lost),
    )
  }
  // What has been said again meanwhile is ticked for that.
  const again = sendingMarks(told.state.deeds)
  const undone = parts.flatMap(part => (part.state === 'undone' ? marksOf(part) : []))
  return untick(
    told,
    undone.filter(mark => !again.has(mark)),
  )
}

/** What was taken and what was lost are told apart, each with its own way back. */
function takeParts(turn: Turn, deed: Deed, parts: readonly Deed[]): Turn {
  const at = turn.stamp.now
  const taken = parts.filter(({ state }) => state !== 'failed').map(each => ({ ...each, at }))
  const marks = taken.flatMap(marksOf)
  const { last, earlier } = turn.state.deeds
  const after = change(turn, 'deeds', {
    earlier: earlier.flatMap(each => (each === deed ? taken : each.what === deed.what ? without(each, marks) : [each])),
    last: last === deed ? taken[0] : last,
  })
  return each(
    after,
    parts.filter(({ state }) => state === 'failed').map(part => ({ ...part, at })),
    fail,
  )
}

/** What makes two failures one. */
const ALIKE = ['what', 'state', 'way', 'noWay', 'code', 'problem', 'notTaken', 'isUndo'] as const

/** Told whatever was said since: what failed for one reason together. */
function fail(turn: Turn, deed: Deed): Turn {
  const { earlier } = turn.state.deeds
  const alike = earlier.find(each => ALIKE.every(key => each[key] === deed[key]))
  if (!alike) return change(turn, 'deeds', { earlier: [...earlier, deed] })
  const said = [...alike.said, ...deed.said]
  const lost = [...(alike.lost ?? []), ...(deed.lost ?? [])]
  const whole = { ...deed, said, lost }
  return change(turn, 'deeds', { earlier: earlier.map(each => (each === alike ? whole : each)) })
}

function untick(turn: Turn, marks: readonly string[]): Turn {
  if (marks.length === 0) return turn
  const { ticked } = turn.state.deeds
  return change(turn, 'deeds', { ticked: new Set([...ticked].filter(mark => !marks.includes(mark))) })
}
