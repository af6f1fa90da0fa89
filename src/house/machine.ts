import { applyAll, type Ledger, newEntries, withPolicy } from '../ledger/apply.ts'
import { read } from '../ledger/read.ts'
import { type Entry, KEEPER_NAME } from '../protocol/entry.ts'
import { isContactWord } from '../protocol/whats.ts'
import { own } from '../text/own.ts'
import { DAY, iso, MINUTE } from '../text/time.ts'
import { clockNotes, datedBy } from './clock-notes.ts'
import { hearWords } from './hear-words.ts'
import { gapOf, missedIn, stillAwaited, type Unheard, waitedFor } from './missed.ts'
import { earsOf, type ModelSends, withModelSends } from './policy.ts'
import { readAgain } from './readings.ts'
import type { Effect, HouseEvent, HouseState, Stepped } from './state.ts'
import { allUnforecast, ofSameCells, unforecastSince } from './unforecast.ts'

type Event<Kind extends HouseEvent['kind']> = Extract<HouseEvent, { kind: Kind }>

const NOBODY: ReadonlySet<string> = new Set()

/** A step before its readings are made. */
interface Turn {
  readonly state: HouseState
  /** Entries that are in the ledger of `state` already. */
  readonly entries?: readonly Entry[]
  readonly effects?: readonly Effect[]
}

/**
 * What follows from an event: the one machine under the keeper and under the tablet.
 *
 * Pure: the shell keeps the world, carries out the effects and hands back what came of them. A shell that must lose
 * nothing (the keeper) carries out `keep` first and goes on with the new state only when the disk has taken the entries;
 * otherwise it drops the new state and its effects, and later plays the same event into the old state again. A shell
 * that shows first (the tablet) adopts the new state at once.
 */
export function step(state: HouseState, event: HouseEvent): Stepped {
  const { now } = event
  const turn = turnOf({ ...state, clockFrom: state.clockFrom ?? now }, event)
  const forecasted = event.kind === 'forecast' ? turn.state : stillForecast(turn.state, state.ledger)
  const { state: after, changed } = readAgain(state, { ...forecasted, now })
  const entries = turn.entries ?? []
  const forecast = forecastFor(state, event, entries)
  const isForecastDue = event.kind === 'time' && forecast !== undefined
  const forecastAt = isForecastDue || event.kind === 'forecast' || event.kind === 'register' ? now : after.forecastAt
  const waits = [...after.awaited.values()].map(({ until }) => until)
  const wakeAt = Math.min(forecastAt + DAY, ...waits, ...after.turns.values())
  const effects: Effect[] = []
  if (entries.length > 0) effects.push({ kind: 'keep', entries })
  effects.push(...(turn.effects ?? []))
  if (forecast) effects.push({ kind: 'forecast', when: forecast })
  if (changed.length > 0) effects.push({ kind: 'changed', marks: changed })
  const isOther = wakeAt !== state.wakeAt || event.kind === 'time'
  if (isOther && wakeAt < Number.POSITIVE_INFINITY) effects.push({ kind: 'wake', at: wakeAt })
  return { state: { ...after, forecastAt, wakeAt }, effects }
}

function turnOf(state: HouseState, event: HouseEvent): Turn {
  switch (event.kind) {
    case 'words': {
      const { ledger, heard, entries, effects } = hearWords(state, event)
      const times = [...heard].map(mark => [mark, event.now] as const)
      const heardAt = heard.size === 0 ? state.heardAt : new Map([...state.heardAt, ...times])
      return {
        state: { ...state, ledger, heardAt, awaited: stillAwaited(state.awaited, heard, entries) },
        entries,
        effects,
      }
    }
    case 'entries': {
      const entries = newEntries(
        state.ledger,
        event.entries.map(entry => datedBy(state, entry)),
      )
      return withEntries({ ...state, awaited: stillAwaited(state.awaited, NOBODY, entries) }, entries)
    }
    case 'register':
      return takeRegister(state, event)
    case 'missed':
      return withUnheard({ ...state, gap: gapOf(event) ?? state.gap }, missedIn(state, event))
    case 'clock':
      return setClock(state, event)
    case 'forecast':
      return noteLow(
        {
          ...stillForecast({ ...state, left: event.left, unforecast: NOBODY }, event.madeFrom ?? state.ledger),
          ledger: modelled(state.ledger, event.modelSends),
        },
        event,
      )
    case 'no-forecast':
      return { state: { ...state, unforecast: allUnforecast(state.ledger) } }
    case 'time':
      return withUnheard(state, waitedFor(state.awaited, event.now))
    case 'leaving':
      return withUnheard(state, waitedFor(state.awaited))
  }
}

/** A topic that was not listened to until now, be it put back or edited, went unheard for nobody knows how long. */
function takeRegister(state: HouseState, { register, policies, ledger, id, now }: Event<'register'>): Turn {
  const { openings } = register
  const topics = openings.map(({ topic }) => topic)
  const after = {
    ...state,
    register,
    ears: earsOf(register),
    ledger: ledger ?? withPolicy(state.ledger, policies),
    topics,
  }
  const listen: Effect = { kind: 'listen', topics }
  const before = state.topics && new Set(state.topics)
  const marks = openings.filter(({ topic }) => before && !before.has(topic)).map(({ mark }) => mark)
  const turn = withUnheard(after, missedIn(after, { marks, id, now }))
  return { ...turn, effects: [listen] }
}

/**
 * A clock that starts wrong makes a gap look short, and gives words false times. When it is set forward soon after, the
 * gap was as much longer, and the words happened between its times and now; when it is set back, the times at which
 * doors were heard lie ahead and tell nothing.
 */
function setClock(state: HouseState, { stepMilliseconds, isWrong, id, now }: Event<'clock'>): Turn {
  const { gap, clockFrom = Infinity } = state
  const isForward = stepMilliseconds > 0
  const set = {
    ...state,
    clockFrom: clockFrom + stepMilliseconds,
    isClockWrong: isWrong,
    heardAt: stepMilliseconds < 0 ? new Map() : state.heardAt,
  }
  if (isWrong) return { state: set }
  const before = now - stepMilliseconds
  const isFalse = stepMilliseconds >= MINUTE && before - clockFrom <= DAY
  const notes = clockNotes(state.ledger, isFalse ? clockFrom : Infinity, now, mark => `${id}-clock-${mark}`)
  const { state: after } = withEntries(isForward ? { ...set, gap: undefined } : set, notes)
  if (!isForward || !gap || before - gap.to > DAY) return { state: after, entries: notes }
  const turn = withUnheard(after, missedIn(after, { ...gap, from: gap.from - stepMilliseconds, id, now }))
  return { ...turn, entries: [...notes, ...(turn.entries ?? [])] }
}

/**
 * A cell that reads low for the first time is noted, so that it stays low until a new one: only a fresh forecast may say
 * so, and no failed test, for what that makes of the cell goes when it is taken back.
 */
function noteLow(state: HouseState, { id, now }: Event<'forecast'>): Turn {
  const notes = read(state.ledger, now, state.ledger.policy, state.left)
    .filter(({ mark, doubts }) => doubts.includes('low') && !doubts.includes('spent') && !isLatched(state.ledger, mark))
    .map(
      ({ mark }): Entry => ({
        id: `${id}-${mark}`,
        at: iso(now),
        mark,
        what: 'note',
        how: 'live',
        by: KEEPER_NAME,
        text: 'low',
      }),
    )
  return withEntries(state, notes)
}

/** What a forecast that was made from `madeFrom` still says of the house. */
const stillForecast = (state: HouseState, madeFrom: Ledger): HouseState => ({
  ...state,
  left: ofSameCells(state.left, madeFrom, state.ledger),
  unforecast: unforecastSince(state.unforecast, madeFrom, state.ledger),
})

const modelled = (ledger: Ledger, modelSends: ModelSends | undefined): Ledger =>
  modelSends ? withPolicy(ledger, withModelSends(ledger.policy, modelSends)) : ledger

const isLatched = (ledger: Ledger, mark: string): boolean => own(ledger.marks, mark)?.fold.low === true

const withEntries = (state: HouseState, entries: readonly Entry[]): Turn =>
  entries.length === 0 ? { state } : { state: { ...state, ledger: applyAll(state.ledger, entries) }, entries }

const withUnheard = (state: HouseState, { notes, awaited, deaf = state.deaf }: Unheard): Turn =>
  withEntries({ ...state, awaited, deaf }, notes)

/**
 * Words of contacts: a forecast follows them. What a person says may end a cell's life: a forecast is asked for without
 * waiting for more words, and what no forecast speaks of until then is `unforecast`.
 */
function forecastFor(state: HouseState, event: HouseEvent, entries: readonly Entry[]): 'now' | 'soon' | undefined {
  if (event.kind === 'register') return 'now'
  if (event.kind === 'time') return event.now >= state.forecastAt + DAY ? 'soon' : undefined
  if (event.kind === 'forecast' || event.kind === 'no-forecast' || entries.length === 0) return undefined
  const isWord = ({ what, by }: Entry) => isContactWord(what) || what === 'odd' || by === KEEPER_NAME
  return entries.every(isWord) ? 'soon' : 'now'
}
