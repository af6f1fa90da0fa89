import type { Round } from '../../ledger/round.ts'
import type { Sort, View } from './chosen.ts'
import type { Deed } from './deeds.ts'

/** What a person did on the sheet. */
export type Act =
  /** Anywhere: the sheet is not idle. */
  | { readonly kind: 'touched' }
  | { readonly kind: 'show'; readonly view: View }
  /** From a panel to the house. */
  | { readonly kind: 'back' }
  /** The key Escape. */
  | { readonly kind: 'escape' }
  | { readonly kind: 'sort'; readonly sort: Sort }
  | { readonly kind: 'type'; readonly text: string }
  | { readonly kind: 'turn-to'; readonly page: number }
  /** Open the story of an opening, or leave the one that is open. */
  | { readonly kind: 'tell'; readonly mark: string | undefined; readonly fromPlan?: true }
  | { readonly kind: 'since'; readonly time: number }
  | { readonly kind: 'print' }
  | {
      readonly kind: 'say'
      /** `failed`: opened, and no word came. */
      readonly what: 'seen-closed' | 'cell-fitted' | 'failed'
      readonly marks: readonly string[]
    }
  | { readonly kind: 'undo'; readonly deed: Deed }
  | { readonly kind: 'start-round'; readonly round: Round }
  | { readonly kind: 'end-round' }
  | { readonly kind: 'leave-out'; readonly natural: boolean }
  /** Of the walk under way. */
  | { readonly kind: 'walk-past'; readonly mark: string }
  /** Who this tablet is to the broker, to be kept here; or to be forgotten. */
  | { readonly kind: 'connect'; readonly user: string; readonly password: string }
  | { readonly kind: 'forget' }

/** "I looked, it is shut". */
export const lookedAt = (marks: readonly string[]): Act => ({ kind: 'say', what: 'seen-closed', marks })
