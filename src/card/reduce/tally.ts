/** This tablet's own tally: the machine that keeper and card share, and what the card keeps of it. */

import { doubtfulFrom } from '../../house/clock.ts'
import { unknownUntil } from '../../house/deaf.ts'
import { step } from '../../house/machine.ts'
import { policyWithoutModel } from '../../house/policy.ts'
import { type Effect, type HouseEvent, startHouse, type Word } from '../../house/state.ts'
import { allUnforecast } from '../../house/unforecast.ts'
import { applyAll, type Ledger, startLedger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import { isContactWord } from '../../protocol/whats.ts'
import { own } from '../../text/own.ts'
import { iso } from '../../text/time.ts'
import type { CardEffect } from '../state/effect.ts'
import type { Loaded } from '../state/event.ts'
import { NAMES } from '../state/memory.ts'
import { type Gap, type HeardWord, keeps, noTally } from '../state/tally.ts'
import { addUnkept, newTo, recentUnkept } from './late.ts'
import { change, each, effect, type Turn } from './turn.ts'
import { walkOn } from './walk.ts'

/** Words that wait for the store to be read; later ones are dropped. */
const MOST_EARLY = 10_000

/** Opens the tally of the register, unless it is open. */
export function openTally(turn: Turn): Turn {
  const { register, tally } = turn.state
  if (register.state !== 'read' || register.register.tally === tally.name) return turn
  const { tally: name } = register.register
  const shut = shutTally(turn)
  return effect(change(shut, 'tally', { name }), { kind: 'open-tally', name })
}

export function shutTally(turn: Turn): Turn {
  if (turn.state.tally.name === undefined) return turn
  const { isKept, writes, hearsContacts, gap } = turn.state.tally
  return effect(change(turn, 'tally', { ...noTally, isKept, writes, hearsContacts, gap }), { kind: 'shut-tally' })
}

/** What was kept has been read: what came meanwhile counts after it. */
export function takeLoaded(
  turn: Turn,
  { ledger, entries, since, isKept, writes, late, topics, deaf, listened }: Loaded,
): Turn {
  const { counted } = turn.state.tally
  const open = change(turn, 'tally', { isKept, writes: writes || !isKept, isDecided: true, isReading: false })
  // A tally that is kept nowhere has only what this page has heard.
  if (!isKept && counted) return open
  const started = ledger ?? countedFrom(turn, entries, since)
  // What this page has heard, and what it waits for after a gap, stands whoever kept the tally.
  const { heardAt, awaited, clockFrom = doubted(turn) } = counted ?? startHouse()
  const unheard = deaf ?? unknownUntil(Number(listened) || turn.stamp.now, started.count)
  const house = { ...startHouse(started, topics, unheard), unforecast: allUnforecast(started) }
  const begun = takeRegister(change(open, 'tally', { counted: { ...house, heardAt, awaited, clockFrom } }))
  if (!writes || !isKept) return begun
  // What is assumed now must not be assumed again of the time from now on.
  const known = deaf ? begun : rememberDeaf(begun)
  return takeLate(ledger ? known : effect(known, { kind: 'keep-begun', ledger: started }), late)
}

/** Since when the tablet's clock may have been wrong: of the time before this page nothing is known. */
function doubted({ state: { clock, joinedAt }, stamp }: Turn): number {
  return clock.watched ? doubtfulFrom(clock.watched, stamp.told, joinedAt) : joinedAt
}

/** A ledger of what was kept, from when counting began; where nothing was, one that begins now. */
function countedFrom(turn: Turn, entries: readonly Entry[], since: string | undefined): Ledger {
  const { register } = turn.state
  const policy = register.state === 'read' ? policyWithoutModel(register.register) : {}
  const began = since ?? (entries.length === 0 ? iso(turn.stamp.now) : undefined)
  return applyAll(startLedger(policy, began), entries)
}

/** What another page, or this one before, had not kept. */
function takeLate(turn: Turn, late: readonly Entry[]): Turn {
  const { unkept, counted } = turn.state.tally
  const marks = counted?.ledger.marks ?? {}
  const entries = newTo(mark => own(marks, mark)?.window ?? [], [...late, ...recentUnkept(unkept, turn.stamp.now)])
  const after = change(turn, 'tally', { unkept: [] })
  return entries.length === 0 ? after : play(after, { kind: 'entries', entries, now: turn.stamp.now }, 'late')
}

/** The gap that was found, and the words that came, before the store was read. */
export function takeEarly(turn: Turn): Turn {
  const { early } = turn.state.tally
  return early.length === 0 ? turn : hear(change(turn, 'tally', { early: [] }), early)
}

/** The register, as it was read, or as it was edited. */
export function takeRegister(turn: Turn): Turn {
  const { register, tally } = turn.state
  if (register.state !== 'read' || !tally.counted) return turn
  const { id, now } = turn.stamp
  const policies = policyWithoutModel(register.register)
  return play(turn, { kind: 'register', register: register.register, policies, id: `${id}r`, now })
}

/** A time in which nobody listened here. */
export function miss(turn: Turn, { from, to }: Gap): Turn {
  const { counted, isReading, gap } = turn.state.tally
  if (!counted || isReading) return change(turn, 'tally', { gap: gap ? { ...gap, to } : { from, to } })
  const begin = from === undefined ? {} : { from }
  return play(turn, {
    kind: 'missed',
    ...begin,
    to,
    awaitsKept: true,
    id: `${turn.stamp.id}-${to}`,
    now: turn.stamp.now,
  })
}

/** The page may end: what is awaited is not waited for. */
export const playLeaving = (turn: Turn): Turn => play(turn, { kind: 'leaving', now: turn.stamp.now })

/** Words of contacts, and since when the link was live as they came. */
export function hear(turn: Turn, words: readonly (HeardWord & { readonly liveSince: number | undefined })[]): Turn {
  const { counted, isReading, early } = turn.state.tally
  if (!counted || isReading) return change(turn, 'tally', { early: [...early, ...words].slice(0, MOST_EARLY) })
  const { id, now } = turn.stamp
  const arrived = words.map(({ message, now: at, liveSince }, index): Word => {
    const live = liveSince === undefined ? {} : { linkLiveSeconds: Math.max(0, (at - liveSince) / 1000) }
    return { id: `${id}-${index}`, message, arrival: { at: iso(at), ...live } }
  })
  return play(turn, { kind: 'words', words: arrived, now })
}

/** What a person said here, or a keeper has noted. */
export const note = (turn: Turn, entries: readonly Entry[]): Turn =>
  turn.state.tally.counted
    ? play(turn, { kind: 'entries', entries, now: turn.stamp.now })
    : // Without a register this tablet has no tally, but it may walk.
      each(turn, entries, walkOn)

/** Plays an event into the machine. @param late - its entries are old: they are counted, and told to nobody */
export function play(turn: Turn, event: HouseEvent, late?: 'late'): Turn {
  const { counted } = turn.state.tally
  if (!counted) return turn
  const { state, effects } = step(counted, event)
  const after = change(turn, 'tally', { counted: state })
  const kept = state.deaf === counted.deaf ? after : rememberDeaf(after)
  return each(kept, effects, (now, one) => carry(now, one, late))
}

function carry(turn: Turn, one: Effect, late?: 'late'): Turn {
  switch (one.kind) {
    case 'keep':
      return late ? keep(turn, one.entries, 'now') : each(keepHeard(turn, one.entries), one.entries, heardHere)
    case 'forecast':
      return effect(turn, one)
    case 'listen':
      return rememberTopics(turn, one.topics)
    case 'refused':
      return effect(turn, { kind: 'report', why: one.why })
    default:
      // The sheet is drawn after every event, and the time is looked at once a second.
      return turn
  }
}

function keepHeard(turn: Turn, entries: readonly Entry[]): Turn {
  const { writes, unkept } = turn.state.tally
  const said = entries.filter(({ what }) => !isContactWord(what) && what !== 'odd')
  const told = said.filter(({ what }) => what !== 'note')
  const others = entries.filter(({ what }) => what !== 'note')
  // What this page has not heard the one that keeps the tally may have.
  if (!writes) return change(turn, 'tally', { unkept: addUnkept(unkept, others) })
  const kept = keep(turn, entries, said.length > 0 ? 'now' : 'soon')
  return effect(kept, ...told.map((entry): CardEffect => ({ kind: 'tell-pages', entry })))
}

function keep(turn: Turn, entries: readonly Entry[], when: 'now' | 'soon'): Turn {
  const { writes, counted } = turn.state.tally
  return writes && counted ? effect(turn, { kind: 'keep', entries, ledger: counted.ledger, when }) : turn
}

/** An entry of this tablet's own tally. */
function heardHere(turn: Turn, entry: Entry): Turn {
  return heardOpen(walkOn(turn, entry), entry, turn.state.shown !== 'keeper')
}

/** @param isShown - the readings that are shown tell of this entry */
export function heardOpen(turn: Turn, { what, how, mark, at }: Entry, isShown = true): Turn {
  const isOpening = what === 'opened' && how === 'live'
  return isShown && isOpening ? effect(turn, { kind: 'opened', mark, at }) : turn
}

/** For the stories after the next start. */
function rememberDeaf(turn: Turn): Turn {
  const { tally } = turn.state
  if (tally.name === undefined || !keeps(tally)) return turn
  return effect(turn, { kind: 'remember', name: NAMES.deaf(tally.name), text: JSON.stringify(tally.counted?.deaf) })
}

/** For the next start: a topic that was not among them went unheard. */
function rememberTopics(turn: Turn, topics: readonly string[]): Turn {
  const { tally } = turn.state
  if (tally.name === undefined || !keeps(tally)) return turn
  return effect(turn, { kind: 'remember', name: NAMES.topics(tally.name), text: JSON.stringify(topics) })
}
