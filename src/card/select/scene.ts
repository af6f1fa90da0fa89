/** All that the sheet shows at one moment; views are functions of it. */
import type { Headline } from '../../ledger/headline.ts'
import type { Round } from '../../ledger/round.ts'
import type { KeeperNote } from '../../protocol/keeper-note.ts'
import type { Elevation } from '../draw/plan.ts'
import type { Day, Opened } from '../draw/today.ts'
import type { Act } from '../state/act.ts'
import type { NoWay } from '../state/deeds.ts'
import type { CardHouse } from '../state/house.ts'
import type { RegisterTrouble } from '../state/register.ts'
import type { Row } from '../state/row.ts'
import type { CardState } from '../state/state.ts'
import type { When } from '../words/when.ts'
import type { Words } from '../words/words.ts'
import type { Jobs } from './jobs.ts'
import type { Placed } from './layouts.ts'
import type { OpenedRow } from './opened-since.ts'
import type { StoryOf } from './stories.ts'

export interface Scene extends Pick<CardState, 'shown' | 'clock' | 'link' | 'chosen' | 'deeds' | 'walk'> {
  readonly now: number
  readonly words: Words
  readonly when: When
  readonly house: CardHouse
  readonly rows: readonly Row[]
  rowOf(mark: string): Row | undefined
  /** The rows in the order of the schedule. */
  readonly inOrder: readonly Row[]
  readonly head: Headline
  /** The link, and the keeper where one is used, are live. */
  readonly fresh: boolean
  readonly broker: string
  /** When what is shown was last known to be so, while it is not fresh. */
  readonly knownAt: number | undefined
  readonly beatAt: number | undefined
  /** The keeper's last beat by its own clock, kept copies too; milliseconds. */
  readonly keeperSaidAt: number | undefined
  /** What the keeper says of itself. */
  readonly keeperNote: KeeperNote | undefined
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
  /** False where this tablet has nothing to forecast with. */
  readonly forecasts: boolean
  readonly accountKept: boolean
  /** Of drawing and schedule together, pixels; height 0: the sheet scrolls, as on a phone. */
  readonly area: { readonly width: number; readonly height: number }
  /** Where everything stands in the drawing; made when a view asks for it. */
  layout(): Placed
  /** The local day up to this minute, and what opened on it; made when a view asks for it. */
  today(): Day
  openedToday(elevation: Elevation): Opened
  /** The cells to change next; made when a view asks for it. */
  jobs(): Jobs
  /** What one opening did; the same on every wall of a house with a keeper. */
  readonly storyOf: StoryOf
  /** Sends that earlier cells of the house gave; made when a view asks for it. */
  pastCells(): readonly { readonly sends: number; readonly died: boolean }[]
  readonly sinceHome: number
  readonly openedSince: readonly OpenedRow[] | undefined
  /** Parts of that time in which nobody listened. */
  readonly deafSince: Day['deaf']
  /** Marks of which something that was said is not answered yet. */
  readonly sending: ReadonlySet<string>
  /** The walk as it would be now. */
  readonly planned: Round | undefined
  /** False on a wall that only looks. */
  readonly maySay: boolean
  /** Why nothing can be said at this moment. */
  readonly notNow: NoWay | undefined
  /** Does what a person pressed. */
  act(act: Act): void
}
