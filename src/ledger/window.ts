import { type Entry, KEEPER_NAME } from '../protocol/entry.ts'
import { CLOCK_SET } from './clock-set.ts'
import type { Fold } from './fold.ts'

/** An entry in its place, with the number in which it arrived. */
export interface PlacedEntry {
  readonly n: number
  readonly entry: Entry
}

/** The tally of one mark. */
export interface MarkState {
  /** Everything before the window, added up. */
  readonly base: Fold
  readonly window: readonly PlacedEntry[]
  /** `base` and the window, added up. */
  readonly fold: Fold
  readonly twinWith?: string
}

/** What stands in a window: a window of 256 entries must not be searched at every entry. */
interface Contents {
  readonly ids: Set<string>
  undone: number
}

/**
 * Contents by window. A copy of a window takes its contents over; whoever still uses the older window has it searched
 * again. Only speed depends on this.
 */
const contents = new WeakMap<readonly PlacedEntry[], Contents>()

function contentsOf(window: readonly PlacedEntry[]): Contents {
  let held = contents.get(window)
  if (!held) {
    held = { ids: new Set(), undone: 0 }
    for (const { entry } of window) add(held, entry)
    contents.set(window, held)
  }
  return held
}

function add(held: Contents, entry: Entry): void {
  held.ids.add(entry.id)
  if (entry.what === 'undone') held.undone++
}

export const holds = (window: readonly PlacedEntry[], id: string): boolean => contentsOf(window).ids.has(id)

/** A window that its maker may change in place, by `insert` and `dropFirst`, until somebody else sees it. */
export function copyOf(window: readonly PlacedEntry[]): PlacedEntry[] {
  const copy = [...window]
  const held = contents.get(window)
  if (held) {
    contents.delete(window)
    contents.set(copy, held)
  }
  return copy
}

export function insert(window: PlacedEntry[], index: number, kept: PlacedEntry): void {
  add(contentsOf(window), kept.entry)
  if (index === window.length) window.push(kept)
  else window.splice(index, 0, kept)
}

/** Takes the oldest entries out of a window, and gives them. */
export function dropFirst(window: PlacedEntry[], count: number): readonly PlacedEntry[] {
  const held = contentsOf(window)
  const dropped = window.splice(0, count)
  for (const { entry } of dropped) {
    held.ids.delete(entry.id)
    if (entry.what === 'undone') held.undone--
  }
  return dropped
}

const nothing = (): boolean => false

/** A test of whether a later entry took an entry back. Taking back an `undone` restores what that had taken back. */
export function takenBack(window: readonly PlacedEntry[]): (kept: PlacedEntry) => boolean {
  if (contentsOf(window).undone === 0) return nothing
  const undone = window.filter(({ entry }) => entry.what === 'undone').sort((a, b) => b.n - a.n)
  const takenAt = new Map<string, number>()
  const isGone = ({ n, entry }: PlacedEntry): boolean => (takenAt.get(entry.id) ?? 0) > n
  for (const kept of undone) {
    const { undoes } = kept.entry
    if (undoes !== undefined && !isGone(kept) && !takenAt.has(undoes)) takenAt.set(undoes, kept.n)
  }
  return isGone
}

/** Latest time at which an entry can have happened: what was said before that comes before the entry. */
export const timeOf = ({ what, at, until, how }: Entry): number =>
  how === 'queued' && until === undefined
    ? Number.POSITIVE_INFINITY
    : Date.parse(what === 'on-test' ? at : (until ?? at))

const isClockSet = ({ entry: { what, text, by } }: PlacedEntry): boolean =>
  what === 'note' && text === CLOCK_SET && by === KEEPER_NAME

/** `timeOf` for the entries of a window: what came by a clock that was wrong happened before it was set. */
export function timesIn(window: readonly PlacedEntry[]): (kept: PlacedEntry) => number {
  const notes = window.filter(isClockSet)
  return ({ n, entry }) => {
    let time = timeOf(entry)
    for (const { n: later, entry: note } of notes) {
      const set = timeOf(note)
      if (later > n && (time === Number.POSITIVE_INFINITY || (time > Date.parse(note.at) && time < set))) time = set
    }
    return time
  }
}

/** Where an entry stands that comes now: one that is said at its own time, every other one last. */
export const indexFor = (window: readonly PlacedEntry[], entry: Entry): number =>
  entry.how === 'said' && entry.what !== 'undone' ? placeOf(window, entry) : window.length

/**
 * Where an entry that was said stands: at its own time. Should the clock have stepped back since, a look stands before
 * all words of a later time, for it must not close an opening that it may not have seen. What the keeper itself notes
 * for an earlier time goes by the clock of then.
 */
function placeOf(window: readonly PlacedEntry[], { at, what }: Entry): number {
  const time = Date.parse(at)
  if (what !== 'seen-closed') return window.findLastIndex(({ entry }) => timeOf(entry) <= time) + 1
  const timeIn = timesIn(window)
  const later = window.findIndex(kept => timeIn(kept) > time)
  return later < 0 ? window.length : later
}
