/** A reading in plain words, as short sentences. */

import { wholeRange } from '../../budget/lives/whole-range.ts'
import { isTooSilent } from '../../ledger/read.ts'
import type { Doubt, Reading } from '../../protocol/reading.ts'
import { MINUTE } from '../../text/time.ts'
import { type Row, toneOf, worstDoubt } from '../state/row.ts'
import type { When } from './when.ts'
import type { Words } from './words.ts'

/** In which language, for which moment. */
export interface TellContext {
  readonly words: Words
  readonly when: When
  /** Milliseconds since the epoch. */
  readonly now: number
  /** There is room for few words. */
  readonly isNarrow?: boolean
}

export interface RowText {
  /** The reading itself. */
  readonly main: string
  /** What qualifies it; may be empty. */
  readonly note: string
}

const time = (iso: string | undefined): number | undefined => (iso === undefined ? undefined : Date.parse(iso))

/** After a longer position the rest is said in few words where there is little room: one of today is not. */
const SHORT_LETTERS = 14

/** `opened 18:02` and `nobody has seen it shut`. */
export function tellRow(row: Row, context: TellContext): RowText {
  const { reading } = row
  const position = tellPosition(row, context)
  const worst = worstDoubt(row)
  const test = tellTest(row, context)
  const unheard = test ?? tellUnheard(row, context)
  const doubt = worst ? tellDoubt(row, worst, context) : unheard
  const pressing = worst && worst !== 'untested' ? doubt : undefined
  const slow = reading.left?.slowJoin && !pressing ? context.words.say('slowJoin') : undefined
  // What was seen shut is never said without what puts it in doubt.
  if (toneOf(row) === 'doubt') return { main: doubt ?? position, note: join(doubt && position, worst && unheard, slow) }
  const isShort = context.isNarrow && position.length > SHORT_LETTERS
  const unseen = reading.position === 'opened' ? context.words.say(isShort ? 'notSeen' : 'nobodySaw') : ''
  return { main: position, note: join(unseen, pressing, slow, test) }
}

/** Of more marks than this the first are named. */
const MOST_NAMED = 3

export const named = (marks: readonly string[]): string =>
  `${marks.slice(0, MOST_NAMED).join(', ')}${marks.length > MOST_NAMED ? ' …' : ''}`

const join = (...parts: readonly (string | undefined)[]): string => parts.filter(Boolean).join(' · ')

/** What its contact says counts nothing at this time. */
function tellTest({ reading }: Row, { words, when, now }: TellContext): string | undefined {
  const until = time(reading.onTestUntil)
  return until === undefined ? undefined : words.say('onTest', { at: when.at(until, now) })
}

/** Nobody listened since somebody saw it shut. */
function tellUnheard({ reading }: Row, { words, when, now }: TellContext): string | undefined {
  const until = time(reading.unheard)
  return until === undefined ? undefined : words.say('unheard', { at: when.at(until, now) })
}

/** How long ago that was: of what is known, else of the last live word. */
export function tellAgo({ reading }: Row, { words, when, now }: TellContext): string {
  const since = time(reading.since)
  // A row is drawn anew once a minute: seconds would stand still.
  const ago = (at: number) => (now - at < MINUTE ? words.say('agoUnderMinute') : when.ago(at, now))
  if (since !== undefined) return ago(since)
  const { last } = reading
  return last && last.how !== 'retained' ? words.say('lastHeard', { ago: ago(Date.parse(last.at)) }) : ''
}

/** Everything in one line, without what passes by itself. */
export function tellQuiet(row: Row, context: TellContext): string {
  const { main, note } = tellRow(row, context)
  return join(main, note)
}

export function tellPosition(row: Row, { words, when, now }: TellContext): string {
  const { reading } = row
  const at = tellWhen({ reading }, { words, when, now })
  switch (reading.position) {
    case 'open':
      return at ? words.say('openSince', { at }) : words.say('openNoTime')
    case 'opened':
      return at ? words.say('opened', { at }) : words.say('openedNoTime')
    case 'closed':
      if (!at) return words.say('closedNoTime')
      if (isReported(row)) return words.say('closedAt', { at })
      return words.say(reading.against ? 'seenAgainst' : 'seenShut', { at })
    case 'taken-closed':
      return words.say('takenClosed', { at })
    case 'no-word':
      return words.say('noWord')
  }
}

/** `18:02`; `between 08:00 and 12:00` where the word waited at the broker. */
function tellWhen(
  { reading: { since, sinceUntil, notBefore, position } }: Pick<Row, 'reading'>,
  { words, when, now }: TellContext,
): string {
  const from = time(since)
  if (from === undefined) return ''
  return tellSpan(from, position === 'open' ? from : notBefore ? undefined : (time(sinceUntil) ?? from), {
    words,
    when,
    now,
  })
}

/** `between 08:00 and 12:00`; one time where both read the same, `after 08:00` where nobody knows the second. */
export function tellSpan(from: number, until: number | undefined, { words, when, now }: TellContext): string {
  const a = when.at(from, now)
  if (until === undefined) return words.say('after', { from: a })
  const b = when.at(until, now)
  return a === b ? a : words.say('between', { from: a, to: b })
}

/** When a word was heard: in full, or the time in which it can have been said while it waited at the broker. */
export function tellLast({ how, at, until }: NonNullable<Reading['last']>, { words, when, now }: TellContext): string {
  const from = Date.parse(at)
  return how === 'queued' ? tellSpan(from, time(until), { words, when, now }) : when.full(from)
}

/** True where the contact itself said so, not a person since. */
const isReported = ({ opening, reading }: Row): boolean => opening.reports === 'both' && !reading.seen

export function tellDoubt({ opening, reading }: Row, doubt: Doubt, { words, when, now }: TellContext): string {
  switch (doubt) {
    case 'untested': {
      if (reading.unheardOnWalk) return words.say('walkUnheard')
      const proven = time(reading.provenAt)
      if (proven !== undefined) return words.say('notTestedSince', { month: when.month(proven, now) })
      // Words came, and none since the count of this cell began.
      return words.say(opening.power === 'cell' && reading.last && reading.sends === 0 ? 'cellUntested' : 'neverTested')
    }
    case 'overdue': {
      if (!isTooSilent(reading.left)) return words.say('unforecast')
      const { days, usualDays } = reading.left?.silence ?? {}
      if (days === undefined || usualDays === undefined) return words.say('overdue')
      return words.say('overdueFor', { days: when.number(days, 0), usual: when.number(Math.max(1, usualDays), 0) })
    }
    case 'twin':
      return reading.twinWith ? words.say('twin', { mark: reading.twinWith }) : words.say('twinUnknown')
    default:
      return words.say(doubt)
  }
}

/** What a keeper says, its times as they are told here. */
export const tellProblem = (problem: string, { when, now }: Pick<TellContext, 'when' | 'now'>): string =>
  problem.replace(/\d{4}-\d\d-\d\dT[\d:.]+Z/g, text => {
    const at = Date.parse(text)
    return Number.isNaN(at) ? text : when.at(at, now)
  })

/** One plain sentence: what the position rests on. */
export function tellGrounds(row: Row, { words, when, now }: TellContext): string {
  const { reading, opening } = row
  const at = tellWhen(row, { words, when, now })
  if (at === '' && reading.position !== 'no-word') return words.say('restsKept')
  switch (reading.position) {
    case 'open':
      return words.say(opening.reports === 'both' ? 'restsBothOpen' : 'restsOpenNow', { at })
    case 'opened':
      return words.say('restsOpened', { at })
    case 'closed':
      return words.say(isReported(row) ? 'restsBothClosed' : 'restsSeen', { at })
    case 'taken-closed':
      return words.say('restsTaken', { at })
    case 'no-word':
      return words.say(reading.last ? 'restsNoEdge' : 'restsNoWord')
  }
}

/** What is told of a cell needs no more of its opening. */
interface CellRow {
  readonly opening: Pick<Row['opening'], 'power'>
  readonly reading: Reading
}

/** What a cell to see to needs, or what it has left. */
export function tellJob(row: CellRow, context: TellContext): string {
  const { doubts, unheardOnWalk, left } = row.reading
  const { words } = context
  if (doubts.includes('spent')) return words.say('cellEmpty')
  const first = unheardOnWalk
    ? 'walkUnheard'
    : doubts.includes('faint')
      ? 'cellDying'
      : doubts.includes('overdue') && isTooSilent(left)
        ? 'cellTest'
        : undefined
  const { big, small } = tellLeft(row, context)
  return `${first ? `${words.say(first)}, ` : ''}${big} ${small}`
}

/** What is left in openings: `{ big: '12', small: 'left, 2.1 to 29' }`. */
export function tellLeft({ reading, opening }: CellRow, { words, when }: TellContext): { big: string; small: string } {
  if (opening.power === 'mains') return { big: words.say('mains'), small: words.say('noCell') }
  const { left, sends, doubts } = reading
  if (!left) return { big: '–', small: words.say('sendsSo', { n: sends }) }
  const { low, middle, high } = wholeRange(left)
  const big = when.number(middle, 0)
  if (doubts.includes('spent')) return { big: '–', small: words.say('takenSpent') }
  const range = { low: when.number(low, 0), high: when.number(high, 0) }
  if (high === 0) return { big, small: words.say('leftNone') }
  return { big, small: words.say(left.atLeast ? 'leftAtLeast' : 'leftRange', range) }
}

/** What is left as a sentence: `About 5 openings left (1 to 18).`; empty where there is no forecast. */
export function tellLeftInFull({ reading: { left, doubts } }: Row, { words, when }: TellContext): string {
  if (!left) return ''
  const { low, middle, high } = wholeRange(left)
  if (doubts.includes('spent')) return `${words.say('takenSpent')}.`
  if (high === 0) return `${words.say('leftNone')}.`
  const range = { n: middle, low: when.number(low, 0), high: when.number(high, 0) }
  return words.say(left.atLeast ? 'leftMore' : 'leftAbout', range)
}
