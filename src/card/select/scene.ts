/** All that the sheet shows at one moment; views are functions of it. */

import type { Headline } from '../../ledger/headline.ts'
import type { Round } from '../../ledger/round.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Layout } from '../draw/plan.ts'
import type { Story } from '../draw/story.ts'
import type { Deed, NoWay } from '../state/deeds.ts'
import type { CardHouse, CardOpening } from '../state/house.ts'
import type { LinkStanding } from '../state/link.ts'
import type { RegisterTrouble } from '../state/register.ts'
import type { Row } from '../state/row.ts'
import type { Shown } from '../state/state.ts'
import type { Sort, View } from '../state/view.ts'
import type { KeptRound } from '../state/walk.ts'
import type { When } from '../words/when.ts'
import type { Words } from '../words/words.ts'
import type { OpenedRow } from './opened-since.ts'

export interface Scene {
  readonly now: number
  readonly words: Words
  readonly when: When
  readonly house: CardHouse
  readonly rows: readonly Row[]
  rowOf(mark: string): Row | undefined
  /** The rows in the order of the schedule. */
  readonly inOrder: readonly Row[]
  readonly head: Headline
  readonly shown: Shown
  /** The link, and the keeper where one is used, are live. */
  readonly fresh: boolean
  readonly link: LinkStanding
  readonly broker: string
  readonly lastWordAt: number | undefined
  /** When what is shown was last known to be so, while it is not fresh. */
  readonly knownAt: number | undefined
  readonly beatAt: number | undefined
  /** The keeper's last beat by its own clock, kept copies too; milliseconds. */
  readonly keeperSaidAt: number | undefined
  readonly keeperProblem: string | undefined
  readonly keeperSilent: boolean
  /** The link came up a moment ago: a beat may still come. */
  readonly keeperAwaited: boolean
  /** The link stands, and not one word has come over it. */
  readonly heardNothing: boolean
  /** What is wrong with the register as it is now, while the last good one is shown. */
  readonly registerTrouble: RegisterTrouble | undefined
  /** Another page on this tablet keeps the house's tally. */
  readonly otherPage: boolean
  readonly countedSince: number | undefined
  readonly kept: boolean
  readonly jumped: { readonly at: number; readonly by: number } | undefined
  readonly accountKept: boolean
  readonly view: View
  readonly sort: Sort
  readonly typed: string
  /** Of the drawing; beyond the last it begins anew. */
  readonly page: number
  /** It is drawn for paper. */
  readonly printing: boolean
  readonly area: { readonly width: number; readonly height: number }
  /** Where everything stands in the drawing; made when a view asks for it. */
  layout(): Layout
  /** The mark whose story is open. */
  readonly told: string | undefined
  readonly story: readonly Entry[]
  /** What its entries say of the times up to now; made when a view asks for it. */
  toldStory(opening: CardOpening): Story
  /** Sends that earlier cells of the house gave, as far as this tablet has counted them. */
  readonly pastCells: readonly { readonly sends: number; readonly died: boolean }[]
  readonly sinceHome: number
  readonly openedSince: readonly OpenedRow[] | undefined
  readonly gapsSince: boolean
  readonly ticked: ReadonlySet<string>
  /** Of what was said, what is not answered yet. */
  readonly sending: ReadonlySet<string>
  /** Of these, what was not certain when it was ticked. */
  readonly wasUnsure: ReadonlySet<string>
  /** What was said last. */
  readonly deed: Deed | undefined
  /** What was said before it and failed. */
  readonly failed: readonly Deed[]
  readonly round: Round | undefined
  /** The walk as it would be now. */
  readonly planned: Round | undefined
  readonly leaveOutNatural: boolean
  readonly lastRound: KeptRound | undefined
  /** False on a wall that only looks. */
  readonly maySay: boolean
  /** Why nothing can be said at this moment. */
  readonly notNow: NoWay | undefined
  readonly hands: Hands
}

/** What a person can do on the sheet. */
export interface Hands {
  view(view: View): void
  sort(sort: Sort): void
  type(text: string): void
  turnTo(page: number): void
  tell(mark: string | undefined): void
  /** From a panel to the house. */
  back(): void
  /** @param unsure - none of them was known to be open */
  seenShut(marks: readonly string[], unsure?: boolean): void
  fitCell(mark: string): void
  /** Opened, and no word came. */
  fail(mark: string): void
  undo(deed: Deed): void
  since(time: number): void
  print(): void
  connect(user: string, password: string): void
  forget(): void
  startRound(round: Round): void
  endRound(): void
  leaveOut(natural: boolean): void
}
