import { type Entry, soundEntry } from '../protocol/entry.ts'
import type { HousePolicy, Policy } from '../protocol/policy.ts'
import { isContactWord } from '../protocol/whats.ts'
import { own } from '../text/own.ts'
import { boundJoins, EMPTY_FOLD, type Fold, foldJoin } from './fold.ts'
import { addHabit, addOpening, leaveOutTests } from './habit.ts'
import { addVolts } from './line.ts'
import { foldTested } from './on-test.ts'
import { foldSaid } from './said.ts'
import { joinStories } from './story.ts'
import { findTwin, isLinked, mendTwins, type Recent, remember } from './twin.ts'
import type { MarkState, PlacedEntry } from './window.ts'
import { copyOf, dropFirst, holds, indexFor, insert, takenBack, timesIn } from './window.ts'
import { withStory } from './with-story.ts'
import { foldOdd, foldWord, isTakeover } from './words.ts'

/** Entries kept in memory for each opening: what is said for an earlier time, or taken back, reaches no further. */
export const WINDOW = 256

/** Counting rules for a mark that the register does not have, or not any more. */
const UNKNOWN: Policy = {
  reports: 'openings',
  power: 'cell',
  keepAliveSeconds: 4,
  bootSeconds: 4,
  bounceSeconds: 30,
  provenWithinDays: 180,
  takeAsClosedAfterMinutes: null,
  replaceBelow: 0.9,
}

/**
 * The tally of a house: plain JSON, so that a snapshot is `JSON.stringify`. Values are never changed in place.
 * @see apply
 */
export interface Ledger {
  readonly v: 1
  /** When counting began; where that was not given, absent until the first entry. */
  readonly since?: string
  /** Entries that counted so far. */
  readonly count: number
  readonly policy: HousePolicy
  readonly marks: Readonly<Record<string, MarkState>>
  /** Words and takeovers of the last seconds: two contacts with one client id show here. */
  readonly recent: readonly Recent[]
}

const EMPTY_STATE: MarkState = { base: EMPTY_FOLD, window: [], fold: EMPTY_FOLD }

/**
 * An empty ledger.
 * @param since - ISO 8601 time from which words were listened to; default: the first entry's time
 */
export function startLedger(policy: HousePolicy, since?: string): Ledger {
  return adopt({ v: 1, ...(since === undefined ? {} : { since }), count: 0, policy, marks: {}, recent: [] })
}

/** The ledger under an edited register: the window is counted again, earlier marks hand over their history. */
export function withPolicy(ledger: Ledger, policy: HousePolicy): Ledger {
  const marks = Object.fromEntries(
    Object.entries(ledger.marks).map(([mark, state]) => [mark, refold(state, own(policy, mark) ?? UNKNOWN)]),
  )
  return adopt({ ...ledger, policy, marks })
}

/** Moves the state of marks that an opening had earlier to the mark it has now. */
function adopt(ledger: Ledger): Ledger {
  const marks = { ...ledger.marks }
  const renamed = new Map<string, string>()
  for (const [mark, policy] of Object.entries(ledger.policy)) {
    const earlier = (policy.was ?? []).filter(old => own(marks, old) && !own(ledger.policy, old))
    if (earlier.length === 0) continue
    const states = [...earlier, mark].flatMap(name => own(marks, name) ?? []).sort((a, b) => lastOf(a) - lastOf(b))
    for (const old of earlier) {
      delete marks[old]
      renamed.set(old, mark)
    }
    const twinWith = states.findLast(state => state.twinWith !== undefined)?.twinWith
    const joined = states.reduce(join)
    const window = copyOf(joined.window)
    const whole = refold({ ...joined, base: trim(joined.base, window, policy), window }, policy)
    marks[mark] = twinWith === undefined ? whole : { ...whole, twinWith }
  }
  if (renamed.size === 0) return ledger
  for (const [mark, state] of Object.entries(marks)) {
    const twinWith = state.twinWith === undefined ? undefined : renamed.get(state.twinWith)
    if (twinWith !== undefined) marks[mark] = { ...state, twinWith }
  }
  const recent = ledger.recent.map(word => ({ ...word, mark: renamed.get(word.mark) ?? word.mark }))
  return { ...ledger, marks, recent }
}

const lastOf = ({ window }: MarkState): number => window.at(-1)?.n ?? 0

/** True for a fold to which nothing has been added. */
const isEmpty = (fold: Fold): boolean => fold.firstAt === undefined

const join = (old: MarkState, now: MarkState): MarkState =>
  isEmpty(now.base)
    ? { base: old.base, window: [...old.window, ...now.window], fold: EMPTY_FOLD }
    : { base: addBase(old.fold, now.base), window: now.window, fold: EMPTY_FOLD }

const addBase = (old: Fold, now: Fold): Fold => ({
  ...now,
  openings: old.openings + now.openings,
  sends: now.countedSince === undefined ? old.sends + now.sends : now.sends,
  past: [...old.past, ...now.past],
  ...(old.habit || now.habit ? { habit: addHabit(old.habit, now.habit)! } : {}),
  ...(old.story || now.story ? { story: joinStories(old.story, now.story)! } : {}),
  ...(old.joins || now.joins ? { joins: boundJoins([...(old.joins ?? []), ...(now.joins ?? [])]) } : {}),
  ...(old.firstWordAt === undefined ? {} : { firstWordAt: old.firstWordAt }),
})

/** Which mark an entry counts for: the one whose `was` names it, else its own. */
function markOf(policy: HousePolicy, mark: string): string {
  if (own(policy, mark)) return mark
  for (const [now, { was }] of Object.entries(policy)) if (was?.includes(mark)) return now
  return mark
}

/**
 * Adds one entry. An entry that is `said` counts at its own time; all others count in the order in which they are
 * applied. An entry whose id is among its opening's last 256 changes nothing, nor does one without a sound id,
 * time, mark, what and how: the same object comes back. An `undone` takes back the entry it names if that is among the
 * opening's last 256.
 */
export const apply = (ledger: Ledger, entry: Entry): Ledger => applyAll(ledger, [entry])

/** Those that would count: sound, not among their opening's last 256 entries, each once. */
export function newEntries(ledger: Ledger, entries: readonly Entry[]): readonly Entry[] {
  const taken = new Set<string>()
  return entries.flatMap(given => {
    const entry = soundEntry(given)
    if (!entry) return []
    const mark = markOf(ledger.policy, entry.mark)
    const key = `${mark} ${entry.id}`
    const window = own(ledger.marks, mark)?.window
    if (taken.has(key) || (window && holds(window, entry.id))) return []
    taken.add(key)
    return [entry]
  })
}

/** Adds entries in order. The outcome is that of `apply` one by one; the house is copied only once. */
export function applyAll(ledger: Ledger, entries: Iterable<Entry>): Ledger {
  const draft: { -readonly [K in keyof Ledger]: Ledger[K] } & { marks: Record<string, MarkState> } = {
    ...ledger,
    marks: {},
  }
  const fresh = new Set<readonly PlacedEntry[]>()
  for (const given of entries) {
    const entry = soundEntry(given)
    if (!entry) continue
    const mark = markOf(ledger.policy, entry.mark)
    const policy = own(ledger.policy, mark) ?? UNKNOWN
    const state = own(draft.marks, mark) ?? own(ledger.marks, mark) ?? EMPTY_STATE
    if (holds(state.window, entry.id)) continue
    if (draft.count === ledger.count) draft.marks = { ...ledger.marks }
    const takeover = isEarlyRest(state.fold, entry, policy)
    const isApart = !takeover && isLinked(state.fold, policy)
    const twin = isApart ? undefined : findTwin(draft.recent, mark, entry, takeover)
    const n = draft.count + 1
    draft.marks[mark] = place(state, { n, entry }, policy, fresh)
    mendTwins(draft.marks, mark, entry, twin)
    draft.since ??= entry.at
    draft.count = n
    if (!isApart) draft.recent = remember(draft.recent, mark, entry, takeover)
  }
  return draft.count === ledger.count ? ledger : draft
}

const isEarlyRest = (fold: Fold, { what, how, at }: Entry, policy: Policy): boolean =>
  what === 'rest' &&
  how === 'live' &&
  fold.awaitsRest &&
  fold.wordAt !== undefined &&
  isTakeover(Date.parse(at) - fold.wordAt, policy)

/**
 * The state of a mark with one more entry.
 * @param fresh - windows that nobody else sees yet: they are changed in place
 */
function place(state: MarkState, kept: PlacedEntry, policy: Policy, fresh: Set<readonly PlacedEntry[]>): MarkState {
  const { entry } = kept
  const window = fresh.has(state.window) ? (state.window as PlacedEntry[]) : copyOf(state.window)
  fresh.add(window)
  const index = indexFor(window, entry)
  const isLast = index === window.length
  insert(window, index, kept)
  const base = trim(state.base, window, policy)
  if (entry.what === 'undone' || !isLast) return refold({ ...state, base, window }, policy)
  return { ...state, base, window, fold: foldEntry(state.fold, entry, policy) }
}

/** Takes what a window may not hold out of it, in place. @returns the base with that added */
function trim(base: Fold, window: PlacedEntry[], policy: Policy): Fold {
  const spare = window.length - WINDOW
  if (spare <= 0) return base
  const isGone = takenBack(window)
  const older = dropFirst(window, spare)
  return older.reduce((sum, kept) => (isGone(kept) ? sum : foldEntry(sum, kept.entry, policy)), base)
}

function refold(state: MarkState, policy: Policy): MarkState {
  const isGone = takenBack(state.window)
  let fold = state.base
  for (const kept of state.window) if (!isGone(kept)) fold = foldEntry(fold, kept.entry, policy)
  return { ...state, fold }
}

/** What one entry changes in the fold of its mark. */
export const foldEntry = (fold: Fold, entry: Entry, policy: Policy): Fold =>
  withStory(fold, foldCounts(fold, entry, policy), entry, policy)

function foldCounts(fold: Fold, entry: Entry, policy: Policy): Fold {
  const dated = fold.firstAt === undefined ? { ...fold, firstAt: Date.parse(entry.at) } : fold
  if (entry.how === 'tested') return foldTested(dated, entry)
  const timed = foldJoin(dated, entry)
  if (isContactWord(entry.what)) return withMeasures(timed, foldWord(timed, entry, policy), entry)
  if (entry.what === 'odd') return foldOdd(timed, entry)
  const { habit } = timed
  return foldSaid(habit ? { ...timed, habit: leaveOutTests(habit, entry) } : timed, entry, policy)
}

/** How often it is opened, and its cell's volts: what a word has counted adds to both. */
function withMeasures(before: Fold, after: Fold, { millivolts }: Entry): Fold {
  const { openedAt, openings, sends } = after
  return {
    ...after,
    ...(openings > before.openings && openedAt !== undefined
      ? { habit: addOpening(before.habit, before.openings, openedAt) }
      : {}),
    ...(millivolts !== undefined && sends > before.sends ? { line: addVolts(before.line, sends, millivolts) } : {}),
  }
}

/**
 * True when an entry can no longer be taken back, or a time is too far back to count there: it lies before the
 * opening's last 256 entries.
 */
export function isBeyondWindow(ledger: Ledger, mark: string, { id, at }: { id?: string; at?: string }): boolean {
  const state = own(ledger.marks, markOf(ledger.policy, mark))
  if (!state) return id !== undefined
  if (id !== undefined) return !state.window.some(kept => kept.entry.id === id)
  const [first] = state.window
  return (
    !isEmpty(state.base) && first !== undefined && at !== undefined && Date.parse(at) < timesIn(state.window)(first)
  )
}
