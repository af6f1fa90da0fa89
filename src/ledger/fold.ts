import type { Entry, How } from '../protocol/entry.ts'
import { latestWill, soonestWill } from '../protocol/last-will.ts'
import type { Policy } from '../protocol/policy.ts'
import type { What } from '../protocol/whats.ts'
import type { Habit } from './habit.ts'
import type { Line } from './line.ts'
import type { Story } from './story.ts'

/** A cell that was taken out of this opening, and the sends that it is known to have given. */
export interface PastCell {
  readonly type?: string
  /** Sends that got through. Where the cell ended by failing, the next try failed. */
  readonly sends: number
  readonly ended: 'failed' | 'changed'
  /** False where sends before the tally began are unknown, so that `sends` is only a lower bound. */
  readonly counted: boolean
  /** When the cell was fitted, where somebody said so; milliseconds since the epoch. */
  readonly fittedAt?: number
  /** When it was last heard or proved, and when it came out. */
  readonly lastAt?: number
  readonly endedAt?: number
  /** Rested millivolts when it was fitted. */
  readonly fittedMillivolts?: number
  /** Its volts under load, while the same module is in place. */
  readonly line?: Line
}

/** How long the first word of one opening took. */
export interface Join {
  /** Milliseconds since the epoch. */
  readonly at: number
  readonly milliseconds: number
}

/** All that is known of one opening after some entries; times are milliseconds since the epoch. */
export interface Fold {
  readonly state: 'none' | 'opened' | 'closed'
  readonly since?: number
  /** Of a word or a look that waited: the latest time for `since`; null where nobody knows one. */
  readonly sinceUntil?: number | null
  readonly openings: number
  /** Sends of the present cell. */
  readonly sends: number
  /** What `sends` was when a word last got through. */
  readonly sendsThrough: number
  /**
   * Time of the last opened word, at both edges of the last opened or closed one, where that is known. A rest word
   * without an opened word stands for an opened word 1.5 keep-alives earlier.
   */
  readonly wordAt?: number
  /** Latest time at which the last opening can have happened. */
  readonly openedAt?: number
  /** The opened word may still be followed by its rest word. */
  readonly awaitsRest: boolean
  /** The rest word has ended `open`. */
  readonly rested: boolean
  /** Time of a rest word that came without an opened word: the opened word may still follow. */
  readonly loneRestAt?: number
  /** At both edges: the last edge that the contact itself reported. */
  readonly edge?: 'opened' | 'closed'
  /** `since` is when somebody saw it shut. */
  readonly bySight?: true
  /** Who signed the last look; of use only with `bySight`. */
  readonly seenBy?: string
  /**
   * When a time ended in which nobody listened. Set only for an opening that was taken for closed then, until its
   * contact is heard or somebody looks.
   */
  readonly unheardAt?: number
  /** The last test that was said, milliseconds since the epoch: words between count nothing. */
  readonly onTest?: { readonly from: number; readonly until: number }
  readonly faint: boolean
  readonly silent: boolean
  readonly spent: boolean
  readonly low: boolean
  readonly provenAt?: number
  /** A walk passed the contact by and did not hear it, milliseconds since the epoch; until it proves itself again. */
  readonly unheardOnWalk?: number
  /** The highest boot count of the present counter. */
  readonly boots?: number
  /** Counts below `boots` of which no word was heard, the last 1000: their sends are counted, and their words may come. */
  readonly unheardBoots?: readonly number[]
  /** The last count that came below `boots`: the next that rises above it may show that the counter began anew. */
  readonly lowerBoots?: number
  /** Sends counted since `boots` was heard. */
  readonly sendsSinceBoots: number
  readonly millivolts?: number
  /** Rested millivolts of the present cell when it was fitted, and its volts under load since. */
  readonly fittedMillivolts?: number
  readonly line?: Line
  readonly habit?: Habit
  readonly story?: Story
  /** First words of this module, from opening to word: the earliest five and the newest eleven. */
  readonly joins?: readonly Join[]
  /** Revision that the module was flashed with, as said or as it says itself. */
  readonly revision?: string
  readonly countedSince?: number
  readonly cellType?: string
  readonly past: readonly PastCell[]
  readonly last?: { readonly at: string; readonly until?: string; readonly word: What; readonly how: How }
  readonly odd?: { readonly count: number; readonly text: string; readonly at: string }
  /** Time of the first entry, and of the first word of the contact that counts. */
  readonly firstAt?: number
  readonly firstWordAt?: number
}

export const EMPTY_FOLD: Fold = {
  state: 'none',
  openings: 0,
  sends: 0,
  sendsThrough: 0,
  awaitsRest: false,
  rested: false,
  faint: false,
  silent: false,
  spent: false,
  low: false,
  sendsSinceBoots: 0,
  past: [],
}

/** Longest text kept of an odd word. */
export const ODD_TEXT = 200

/** Longest name of who looked, characters. */
const NAME = 40

export const nameOf = ({ by }: Entry): string | undefined => by && [...by].slice(0, NAME).join('')

/** Text of a note by `sashtally`: words may have been missed before it. */
export const UNHEARD = 'unheard'

/** Latest time for an entry that waited, null where nobody knows one; undefined for one that came at its time. */
export const untilOf = ({ how, until }: Entry): number | null | undefined =>
  how !== 'queued' ? undefined : until === undefined ? null : Date.parse(until)

const [FIRST_JOINS, MOST_JOINS] = [5, 16]

export const boundJoins = (joins: readonly Join[]): readonly Join[] =>
  joins.length <= MOST_JOINS ? joins : [...joins.slice(0, FIRST_JOINS), ...joins.slice(FIRST_JOINS - MOST_JOINS)]

/** Adds the time that a first word took; a failed test had no word. */
export function foldJoin(fold: Fold, { what, at, joinMilliseconds: milliseconds }: Entry): Fold {
  if (milliseconds === undefined || what === 'failed') return fold
  return { ...fold, joins: boundJoins([...(fold.joins ?? []), { at: Date.parse(at), milliseconds }]) }
}

/** Longest wait for a will, milliseconds. */
export const willWait = (policy: Pick<Policy, 'keepAliveSeconds'>): number => latestWill(policy.keepAliveSeconds) * 1000

/** Milliseconds after the longest wait for a will from which on a rest word belongs to another try. */
export const AFTER_WAIT = 5000

/** Earliest will of a silent client, milliseconds after its word; an earlier one means a takeover. */
export const willFloor = (policy: Policy): number => soonestWill(policy.keepAliveSeconds) * 1000

/** Drops fields that are undefined: a value is then the same in memory and after a way through JSON. */
export function tidy<T extends object>(value: { [K in keyof T]: T[K] | undefined }): T {
  const kept: { [K in keyof T]?: T[K] | undefined } = {}
  for (const key in value) if (value[key] !== undefined) kept[key] = value[key]
  return kept as T
}

/** The fold with other fields; one that is undefined is absent then. */
export function changed(fold: Fold, fields: { readonly [K in keyof Fold]?: Fold[K] | undefined }): Fold {
  const copy: Record<string, unknown> = { ...fold }
  let isGone = false
  for (const key in fields) {
    const field = fields[key as keyof Fold]
    if (field !== undefined) copy[key] = field
    else if (key in copy) {
      copy[key] = undefined
      isGone = true
    }
  }
  return isGone ? tidy<Fold>(copy as unknown as Fold) : (copy as unknown as Fold)
}

/** When the contact last showed itself, by an opening or a proof. */
export const heardAt = ({ openedAt, provenAt }: Fold): number | undefined =>
  openedAt === undefined || provenAt === undefined ? (openedAt ?? provenAt) : Math.max(openedAt, provenAt)
