import { type Ledger, startLedger } from '../ledger/apply.ts'
import type { Ears, Hearing } from '../ledger/hear.ts'
import type { SayContext } from '../ledger/judge-say.ts'
import type { Entry } from '../protocol/entry.ts'
import type { Heard } from '../protocol/feed.ts'
import type { HeardNote } from '../protocol/heard-note.ts'
import type { HousePolicy } from '../protocol/policy.ts'
import type { Left, Reading } from '../protocol/reading.ts'
import type { Register } from '../register/types.ts'
import type { Deaf } from './deaf.ts'
import type { ModelSends } from './policy.ts'

/** A time in which words may have gone unheard, as a `missed` event tells of it; milliseconds since the epoch. */
export interface LastGap {
  readonly from: number
  readonly to: number
  readonly marks?: readonly string[]
  readonly queued?: boolean
}

/** What is kept of a door where the word that the broker kept does not come until then, milliseconds since the epoch. */
export interface PendingNote {
  readonly note: Entry
  readonly until: number
}

export type LeftByMark = Readonly<Record<string, Left>>

/** All that is known of a house, as plain data that is never changed in place; the house's policy is `ledger.policy`. */
export interface HouseState {
  /** Undefined until the first register came. */
  readonly register: Register | undefined
  /** What is listened for on each contact's topic. */
  readonly ears: Ears
  readonly ledger: Ledger
  /** What is left in each cell, by the last forecast. */
  readonly left: LeftByMark
  /** Openings that no forecast speaks of as they are now: a silent cell is not certain until one does. */
  readonly unforecast: ReadonlySet<string>
  /** By mark, in the order of the register; a reading stays the same object while it says the same. */
  readonly readings: ReadonlyMap<string, Reading>
  /** When each reading changes by the passing of time alone, milliseconds since the epoch; infinite: never. */
  readonly turns: ReadonlyMap<string, number>
  /** When a `time` event is due, milliseconds since the epoch. */
  readonly wakeAt: number
  /** When a forecast was last made, or was due, milliseconds since the epoch. */
  readonly forecastAt: number
  /** When each contact of both edges was last heard, copies that the broker keeps too; milliseconds since the epoch. */
  readonly heardAt: ReadonlyMap<string, number>
  /** Doors that may have spoken unheard and whose word at the broker has not come yet: not certain meanwhile. */
  readonly awaited: ReadonlyMap<string, PendingNote>
  /** The times in which nobody listened; a shell keeps them for the next start. */
  readonly deaf: readonly Deaf[]
  /** The last time in which words may have gone unheard, as far as its length was known. */
  readonly gap: LastGap | undefined
  /** The contacts' topics that were listened to up to now; undefined where nobody knows. */
  readonly topics: readonly string[] | undefined
  /** Since when the clock may have been wrong, by itself (`doubtfulFrom`), milliseconds since the epoch: default the first event. */
  readonly clockFrom: number | undefined
  /** The clock cannot be right: nobody knows until when what comes now happened. */
  readonly isClockWrong: boolean
  /** `now` of the last event. */
  readonly now: number
}

/** When a message came, and whether it had waited at the broker. */
export type Arrival = Omit<Hearing, 'id'>

/** A message of a contact, or what a person said over the broker. */
export interface Word {
  /** Id of the entry that it may become; a say brings its own. */
  readonly id: string
  readonly message: Heard
  readonly arrival: Arrival
  /**
   * `again`: the message is known to be on the disk: a say is answered again, everything else is dropped. `maybe`: it may
   * be there: it counts, and its entry says so.
   */
  readonly delivery?: 'again' | 'maybe'
}

/** Handed in, so that a tablet, which judges no say, does not carry the rules. */
export interface SayHearing {
  /** `hearSay` of `hear-say.ts`. */
  readonly hear: (
    state: HouseState,
    word: Word,
    mark: string,
    context: Pick<SayContext, 'ledger' | 'now' | 'find'>,
  ) => { readonly entry?: Entry; readonly effect: Effect }
  /** Looks an entry up that the ledger may not remember any more. */
  readonly find: (id: string) => Entry | undefined
}

/** What happened; `now` is milliseconds since the epoch, `id` is unlike that of every other event. */
export type HouseEvent =
  /** Messages in the order in which they came: gathered per frame or per commit. */
  | {
      readonly kind: 'words'
      readonly words: readonly Word[]
      readonly now: number
      /** Given by a shell that says are sent to; without it they are left alone. */
      readonly says?: SayHearing
    }
  /** Entries that are entries already: what a person said at this shell, what another page of this tablet kept. Those that the ledger holds are left out. */
  | { readonly kind: 'entries'; readonly entries: readonly Entry[]; readonly now: number }
  /** The first register, or an edited one, and its rules. `ledger`: already counted by its rules; default: the window is. */
  | {
      readonly kind: 'register'
      readonly register: Register
      readonly policies: HousePolicy
      readonly ledger?: Ledger
      readonly id: string
      readonly now: number
    }
  /** Words may have gone unheard from `from` (absent: nobody knows since when) to `to` (absent: now). */
  | {
      readonly kind: 'missed'
      readonly from?: number
      /** Where `from` is not known: until when something was heard. */
      readonly heardUntil?: number | undefined
      readonly to?: number
      /** Default: all openings of the register. */
      readonly marks?: readonly string[]
      /** The broker kept what came at QoS 1 or 2 and has handed it over, or will. */
      readonly queued?: boolean
      /**
       * A door's word that the broker kept is on its way: nothing is written for 10 s. Only for a shell that says
       * `leaving` before it ends.
       */
      readonly awaitsKept?: boolean
      readonly id: string
      readonly now: number
    }
  /** What every cell has left: what the effect `forecast` asked for. */
  | {
      readonly kind: 'forecast'
      readonly left: LeftByMark
      /** Of a new cell by its model, where a shell learned that after the register; by mark. */
      readonly modelSends?: ModelSends
      /** What it was made from, where entries may have come since. */
      readonly madeFrom?: Ledger
      readonly id: string
      readonly now: number
    }
  /** The forecast that was asked for could not be made: an older one says nothing of the silence since. */
  | { readonly kind: 'no-forecast'; readonly id: string; readonly now: number }
  /** A shell has begun, or its machine's clock was set: as `house/clock.ts` tells it. */
  | {
      readonly kind: 'clock'
      /** By how much it was set forward or, below 0, back; 0 at the start. */
      readonly stepMilliseconds: number
      /** It cannot be right, until another such event says that it can. */
      readonly isWrong: boolean
      readonly id: string
      /** By the clock as it is now. */
      readonly now: number
    }
  /** The time of the last `wake` has come; harmless at any other time. */
  | { readonly kind: 'time'; readonly now: number }
  /** The shell may end now: nothing is waited for any more. */
  | { readonly kind: 'leaving'; readonly now: number }

/** What the shell has to do, in this order. */
export type Effect =
  /** Keep these entries. A keeper adopts the new state only when they are on the disk. */
  | { readonly kind: 'keep'; readonly entries: readonly Entry[] }
  /** Publish the answer to a say. */
  | { readonly kind: 'answer'; readonly id: string; readonly note: HeardNote }
  /** Tell the person at this machine what could not be taken, and why. */
  | { readonly kind: 'refused'; readonly why: string }
  /** Listen to these topics, and remember them for the next start: a topic that was not among them went unheard. */
  | { readonly kind: 'listen'; readonly topics: readonly string[] }
  /** Work out what every cell has left and hand it back; `now`: without waiting for more words. */
  | { readonly kind: 'forecast'; readonly when: 'now' | 'soon' }
  /** These readings say something else. */
  | { readonly kind: 'changed'; readonly marks: readonly string[] }
  /** Hand back a `time` event at `at`, milliseconds since the epoch; takes the place of the last one. */
  | { readonly kind: 'wake'; readonly at: number }

/** What `step` gives: the state after the event, and what the shell has to do. */
export interface Stepped {
  readonly state: HouseState
  readonly effects: readonly Effect[]
}

/**
 * A house of which no register is known yet: `step` it with the first `register` event.
 * @param ledger - what was kept; default: an empty one
 * @param topics - the contacts' topics that were listened to until it was kept, as the last effect `listen` gave them
 * @param deaf - as it was kept
 */
export const startHouse = (
  ledger: Ledger = startLedger({}),
  topics?: readonly string[],
  deaf: readonly Deaf[] = [],
): HouseState => ({
  register: undefined,
  ears: new Map(),
  ledger,
  left: {},
  unforecast: new Set(),
  readings: new Map(),
  turns: new Map(),
  wakeAt: Number.POSITIVE_INFINITY,
  forecastAt: Number.POSITIVE_INFINITY,
  heardAt: new Map(),
  awaited: new Map(),
  deaf,
  gap: undefined,
  topics,
  clockFrom: undefined,
  isClockWrong: false,
  now: Number.NEGATIVE_INFINITY,
})
