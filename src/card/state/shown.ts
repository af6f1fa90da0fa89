/** What follows from the state at a moment: whose readings are shown, how fresh they are, where a word goes. */
import type { Clocks } from '../../house/clock.ts'
import { addressesOf } from '../../register/topics.ts'
import type { Way } from './deeds.ts'
import type { CardHouse, CardOpening } from './house.ts'
import { isBeating, isUnreadable, isUsed } from './keeper.ts'
import { isLive } from './link.ts'
import type { CardState, Shown } from './state.ts'
import { hasEntries } from './tally.ts'

/** After the link came up a keeper has this long to be heard before it is called silent. */
const AWAIT_MILLISECONDS = 40_000

/** Topic prefix of the tally: the register's, else what the attribute says; empty: none. */
export const tallyOf = ({ register, attributes }: CardState): string =>
  register.state === 'read' ? register.register.tally : attributes.tally

/** Whose memory of keeper and walk it is: a wall keeps these apart by tally and broker. */
export const memoryOf = (state: CardState): string => `${tallyOf(state)} ${brokerOf(state)}`

/** Topics of the contacts; none without a register. */
export const topicsOf = ({ register }: CardState): readonly string[] =>
  register.state === 'read' ? [...new Set(register.register.openings.map(({ topic }) => topic))] : []

/** Address of the broker, of a cluster those of its nodes with blanks between them; empty: none. */
export const brokerOf = ({ register, attributes }: CardState): string =>
  attributes.broker || (register.state === 'read' ? addressesOf(register.register.broker, 'websocket').join(' ') : '')

/** The keeper beats, and its readings may be read. */
export function hearsKeeper({ keeper, link: { standing } }: CardState, clocks: Clocks): boolean {
  const isRefused = standing.state === 'live' && isUnreadable(keeper, standing.unreadable)
  return isBeating(keeper, clocks) && !isRefused
}

/** The link, and the keeper where one is used, are live. */
export function isFresh(state: CardState, clocks: Clocks): boolean {
  const { standing } = state.link
  if (standing.state !== 'live') return false
  return isUsed(state.keeper) ? hearsKeeper(state, clocks) : !standing.partial
}

/** The link came up a moment ago: a beat may still come. */
export function awaitsKeeper({ keeper, link: { liveSince } }: CardState, now: number): boolean {
  const state = keeper.note?.state ?? 'live'
  return state === 'live' && liveSince !== undefined && Math.abs(now - liveSince) < AWAIT_MILLISECONDS
}

/** Whose readings are to be shown from now on. */
export function nextShown(state: CardState, clocks: Clocks): Shown {
  if (hearsKeeper(state, clocks)) return 'keeper'
  const { keeper, tally, link, shown } = state
  // A tablet that may not hear the contacts has nothing of its own to put in the place of what the keeper last said.
  const hasOwn = tally.hearsContacts || (hasEntries(tally) && !isUsed(keeper))
  // While a keeper may only be out of hearing it knows more than this tablet.
  const isAbsent = isLive(link) ? !awaitsKeeper(state, clocks.now) : shown === 'own'
  return keeper.readings.size > 0 && !(hasOwn && isAbsent) ? 'kept' : 'own'
}

/** The house that is shown: of the register file, or of a keeper. */
export function shownHouse({ shown, register, keeper }: CardState): CardHouse | undefined {
  const own = register.state === 'read' ? register.house : undefined
  return shown === 'own' ? own : (keeper.house ?? own)
}

export const openingOf = (state: CardState, mark: string): CardOpening | undefined =>
  shownHouse(state)?.openings.find(opening => opening.mark === mark)

/** In a house with a keeper a word goes to the keeper or nowhere: this tablet's own tally is not the house's. */
export function wayOf(state: CardState, clocks: Clocks): Way {
  const { keeper, tally, attributes, link } = state
  if (!isUsed(keeper)) return tally.writes ? 'own' : 'notOnThisPage'
  if (!attributes.maySay) return 'onlyLooks'
  // Its beat may still come: the answer decides.
  const mayAnswer = isBeating(keeper, clocks) || (isLive(link) && awaitsKeeper(state, clocks.now))
  return mayAnswer ? 'keeper' : 'keeperUnheard'
}
