import { leaveOut } from '../../ledger/round.ts'
import type { Act } from '../state/act.ts'
import type { CardEffect } from '../state/effect.ts'
import type { CardEvent, Stamp } from '../state/event.ts'
import { nextShown, shownHouse } from '../state/shown.ts'
import type { CardState } from '../state/state.ts'
import { focusOn, goBack, leaveIdle, leaveStory, openStory, show, stepBack, touch, turnTo } from './chosen.ts'
import { beginClock, lookAtClock } from './clock.ts'
import { say, sayRound, seenShut, tidyDeeds, undo } from './deeds.ts'
import { takeHeard } from './heard.ts'
import { rememberKeeper, useKeeper } from './keeper.ts'
import { knowLive, linkChanged, listen } from './link.ts'
import { listenOn, takeOver, useHouse, writeDown } from './listening.ts'
import { askAgain, recall, registerFound } from './register.ts'
import { unanswered, waitNoLonger } from './says.ts'
import { miss, note, openTally, play, playLeaving, shutTally, takeEarly, takeLoaded } from './tally.ts'
import { change, effect, set, type Turn } from './turn.ts'
import { keepWalk, recallWalk, useWalk } from './walk.ts'

export interface Reduced {
  readonly state: CardState
  readonly effects: readonly CardEffect[]
}

/** What follows from an event for one card. Pure: the card adopts the state and carries the effects out. */
export function reduce(state: CardState, event: CardEvent, stamp: Stamp): Reduced {
  const turn = turnOf({ state, effects: [], stamp }, event)
  const shown = nextShown(turn.state, stamp)
  const chosen = shown === turn.state.shown ? turn : set(turn, { shown })
  const after = recallWalk(knowLive(chosen), shownHouse(chosen.state))
  return { state: after.state, effects: after.effects }
}

function turnOf(turn: Turn, event: CardEvent): Turn {
  switch (event.kind) {
    case 'joined':
      return join(turn)
    case 'left':
      return leave(turn)
    case 'leaving':
      return effect(playLeaving(writeDown(turn)), { kind: 'save-waiting' }, { kind: 'keep-waiting' })
    case 'attributes': {
      const { attributes } = event
      const { view, sort } = turn.state.attributes
      const asked = set(turn, { attributes })
      const sorted = attributes.sort === sort ? asked : change(asked, 'chosen', { sort: attributes.sort })
      return listen(recall(attributes.view === view ? sorted : show(sorted, attributes.view)))
    }
    case 'register-asked':
      return askAgain(turn)
    case 'register':
      return registerFound(turn, event.found, event.url)
    case 'recalled': {
      const { tally, house, memory } = event
      const kept = useKeeper(turn, tally, Boolean(memory.keeper))
      const walked = useWalk(kept, tally, house, memory)
      return turn.state.register.state === 'read' ? useHouse(walked, tally, memory.listened) : walked
    }
    case 'dialled':
      return change(turn, 'link', { hasHeard: false })
    case 'link':
      return linkChanged(lookAtClock(turn), event.standing)
    case 'heard':
      return takeHeard(turn, event.words)
    case 'tick':
      return tick(turn, event.mayTurn)
    case 'reading':
      return event.writes
        ? change(turn, 'tally', { isReading: true })
        : effect(change(turn, 'tally', { isReading: true, writes: false }), { kind: 'forget-waiting' })
    case 'loaded': {
      const loaded = beginClock(takeLoaded(turn, event.loaded))
      const { gap } = loaded.state.tally
      const missed = gap ? miss(change(loaded, 'tally', { gap: undefined }), gap) : loaded
      return takeEarly(missed.state.tally.writes ? takeOver(missed, event.loaded.listened) : missed)
    }
    case 'kept':
      return change(turn, 'tally', { isKept: event.ok })
    case 'noted-elsewhere':
      return turn.state.tally.writes ? turn : note(turn, [event.entry])
    case 'forecast':
      return play(change(turn, 'tally', { forecasts: true }), {
        ...event,
        id: `${turn.stamp.id}f`,
        now: turn.stamp.now,
      })
    case 'no-forecast':
      return play(change(turn, 'tally', { forecasts: false }), {
        ...event,
        id: `${turn.stamp.id}f`,
        now: turn.stamp.now,
      })
    case 'unanswered':
      return unanswered(turn, event.ids, event.answer)
    case 'printing':
      return effect(change(turn, 'chosen', { isPrinting: event.isPrinting }), { kind: 'draw-now' })
    default:
      return act(turn, event)
  }
}

/** What a person did on the sheet. */
function act(turn: Turn, event: Act): Turn {
  switch (event.kind) {
    case 'touched':
      return touch(turn)
    case 'show':
      return turnTo(turn, event.view)
    case 'back':
      return goBack(turn)
    case 'escape':
      return stepBack(turn)
    case 'sort':
      return change(turn, 'chosen', { sort: event.sort })
    case 'type':
      return change(turn, 'chosen', { typed: event.text })
    case 'turn-to':
      return change(turn, 'chosen', { page: event.page })
    case 'tell':
      return event.mark === undefined ? leaveStory(turn) : openStory(turn, event.mark, event.fromPlan ?? false)
    case 'since':
      return change(turn, 'chosen', { sinceHome: event.time })
    case 'print':
      return effect(turn, { kind: 'print' })
    case 'say':
      return event.what === 'seen-closed' ? seenShut(turn, event.marks) : say(turn, event.what, event.marks)
    case 'undo':
      return undo(turn, event.deed)
    case 'start-round':
      return keepWalk(focusOn(turn), event.round)
    case 'end-round':
      return sayRound(focusOn(turn))
    case 'walk-past':
      return turn.state.walk.round ? keepWalk(turn, leaveOut(turn.state.walk.round, event.mark)) : turn
    case 'leave-out':
      return change(turn, 'walk', { leaveOutNatural: event.natural })
    case 'connect': {
      const { user, password } = event
      return listen(effect(turn, { kind: 'keep-account', user, password }))
    }
    case 'forget':
      return listen(effect(turn, { kind: 'forget-account' }))
  }
}

/** The element came into the page. */
function join(turn: Turn): Turn {
  const { now } = turn.stamp
  const touched = change(set(turn, { joinedAt: now }), 'chosen', { touchedAt: now })
  return openTally(change(touched, 'clock', { at: turn.stamp.elapsed }))
}

/** It left the page: nobody listens any more, and what is on its way is not waited for. */
function leave(turn: Turn): Turn {
  const { now } = turn.stamp
  const written = waitNoLonger(playLeaving(writeDown(turn)))
  const beatless = change(written, 'keeper', { beat: undefined })
  const unlinked = change(beatless, 'link', { standing: { state: 'connecting', since: now }, liveSince: undefined })
  return shutTally(unlinked)
}

/** Once a second. */
function tick(turn: Turn, mayTurn: boolean): Turn {
  const { now } = turn.stamp
  const looked = listenOn(rememberKeeper(lookAtClock(turn)))
  const { counted } = looked.state.tally
  const isDue = counted !== undefined && (now >= counted.wakeAt || now < counted.now)
  const timed = isDue ? play(looked, { kind: 'time', now }) : looked
  return leaveIdle(tidyDeeds(timed), mayTurn)
}
