import type { Ledger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { LinkStanding } from './link.ts'

/** What has to do with the store of this tablet's own tally. */
export type TallyEffect =
  | { readonly kind: 'open-tally'; readonly name: string }
  /** Let another page keep the tally, once what waits has been kept. */
  | { readonly kind: 'shut-tally' }
  /** Keep entries with the ledger that holds them: at once what a person said, words of contacts together. */
  | {
      readonly kind: 'keep'
      readonly entries: readonly Entry[]
      readonly ledger: Ledger
      readonly when: 'now' | 'soon'
    }
  /** Keep a tally that has no entry yet. */
  | { readonly kind: 'keep-begun'; readonly ledger: Ledger }
  /** What waits to be kept belongs to another page now. */
  | { readonly kind: 'forget-waiting' }
  /** The page may end before the store has answered: put what waits by. */
  | { readonly kind: 'save-waiting' }
  /** Keep now what waits. */
  | { readonly kind: 'keep-waiting' }
  /** Tell the other pages of this tablet what a person said. */
  | { readonly kind: 'tell-pages'; readonly entry: Entry }
  /** Work out in a moment what every cell has left. */
  | { readonly kind: 'forecast'; readonly when: 'now' | 'soon' }

/** What has to be done in the world, in this order. */
export type CardEffect =
  | TallyEffect
  /** Dial this broker, as who this tablet is to it for the house of this tally, unless it is dialled, and listen to these topic filters. */
  | { readonly kind: 'listen'; readonly broker: string; readonly tally: string; readonly filters: readonly string[] }
  /** Keep on this tablet who it is to the broker, or forget it. */
  | { readonly kind: 'keep-account'; readonly user: string; readonly password: string }
  | { readonly kind: 'forget-account' }
  /** Dial anew: a link that slept may look alive. */
  | { readonly kind: 'redial' }
  | { readonly kind: 'publish'; readonly id: string; readonly topic: string; readonly payload: string }
  /** Call those of these says unanswered that have no answer in time. */
  | { readonly kind: 'await-answers'; readonly ids: readonly string[] }
  /** Look up what this tablet keeps of a house. */
  | { readonly kind: 'recall'; readonly tally: string; readonly house: string }
  /** Keep a text on this tablet, or in this page alone; undefined: forget it. */
  | { readonly kind: 'remember'; readonly name: string; readonly text: string | undefined; readonly inPage?: true }
  | { readonly kind: 'opened'; readonly mark: string; readonly at: string }
  | { readonly kind: 'link-changed'; readonly standing: LinkStanding }
  /** Give the focus to the first of these that is seen, after the next drawing. */
  | { readonly kind: 'focus'; readonly selectors: readonly string[] }
  /** A sheet that was left: no focus, nothing folded open, unscrolled. */
  | { readonly kind: 'put-back' }
  | { readonly kind: 'print' }
  | { readonly kind: 'draw-now' }
  /** Tell the browser's log what could not be counted. */
  | { readonly kind: 'report'; readonly why: string }
