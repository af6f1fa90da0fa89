import type { Answer } from '../../house/asked.ts'
import type { Deaf } from '../../house/deaf.ts'
import type { ModelSends } from '../../house/policy.ts'
import type { LeftByMark } from '../../house/state.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { LinkState } from '../../protocol/feed.ts'
import type { Act } from './act.ts'
import type { Moment } from './clock.ts'
import type { LinkOff } from './link.ts'
import type { Memory } from './memory.ts'
import type { RegisterFound } from './register.ts'
import type { Attributes } from './state.ts'
import type { HeardWord } from './tally.ts'

/** When an event happened, and an id unlike that of every other event of any page: `[0-9a-z-]`, at most 29 letters. */
export interface Stamp extends Moment {
  readonly id: string
}

/** What came from this tablet's store once it was opened. */
export interface Loaded {
  /** Undefined where nothing was kept, what was kept can no longer be read, or the browser keeps nothing. */
  readonly ledger: Ledger | undefined
  /** What was kept, where the ledger must be counted from it. */
  readonly entries: readonly Entry[]
  /** When its counting began, ISO 8601, as far as that can be read. */
  readonly since: string | undefined
  readonly isKept: boolean
  /** It is this page's turn to keep the tally. */
  readonly writes: boolean
  /** What a page had not kept when it was left. */
  readonly late: readonly Entry[]
  /** Topics of the contacts that were listened to last; undefined: nobody knows. */
  readonly topics: readonly string[] | undefined
  /** The times in which nobody listened; undefined: none are known. */
  readonly deaf: readonly Deaf[] | undefined
  /** Until when the page that kept it before listened, as text. */
  readonly listened: string | undefined
}

/** All that can happen to a card. */
export type CardEvent =
  | Act
  | { readonly kind: 'joined' }
  | { readonly kind: 'left' }
  /** The page may end, or is not seen any more. */
  | { readonly kind: 'leaving' }
  | { readonly kind: 'attributes'; readonly attributes: Attributes }
  /** Another address is asked for a register. */
  | { readonly kind: 'register-asked' }
  | { readonly kind: 'register'; readonly found: RegisterFound; readonly url: string }
  | { readonly kind: 'recalled'; readonly tally: string; readonly house: string; readonly memory: Memory }
  /** A broker is dialled, or the same with another account. */
  | { readonly kind: 'dialled' }
  | { readonly kind: 'link'; readonly standing: LinkState | LinkOff }
  /** Messages in the order in which they came: gathered for a frame. */
  | { readonly kind: 'heard'; readonly words: readonly HeardWord[] }
  /** Once a second; `mayTurn`: the sheet may turn its pages by itself. */
  | { readonly kind: 'tick'; readonly mayTurn: boolean }
  /** The store is read: at first, and whenever it is another page's turn to keep the tally. */
  | { readonly kind: 'reading'; readonly writes: boolean }
  | { readonly kind: 'loaded'; readonly loaded: Loaded }
  | { readonly kind: 'kept'; readonly ok: boolean }
  /** Another page of this tablet noted what a person said. */
  | { readonly kind: 'noted-elsewhere'; readonly entry: Entry }
  /** As the house's own event; `modelSends` where the rules so far lack them. */
  | {
      readonly kind: 'forecast'
      readonly left: LeftByMark
      readonly madeFrom?: Ledger
      readonly modelSends?: ModelSends
    }
  /** What forecasts is not there, or does not fit. */
  | { readonly kind: 'no-forecast' }
  /** The broker did not take a say, or nobody answered these in time. */
  | { readonly kind: 'unanswered'; readonly ids: readonly string[]; readonly answer?: Answer }
  | { readonly kind: 'printing'; readonly isPrinting: boolean }
