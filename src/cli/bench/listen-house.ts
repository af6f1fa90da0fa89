import type { Feed, Heard, LinkState } from '../../protocol/feed.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { parentLevel } from '../../register/topics.ts'
import type { Register } from '../../register/types.ts'
import { listenLive, lostWhy, settled } from '../broker/listening.ts'
import { EXIT, Stop, type World } from '../world.ts'

/** The contacts' own topics, and what the keeper says of itself and of each opening. */
function ownFilters({ tally, openings }: Register): string[] {
  const topics = tallyTopics(tally)
  return [...openings.map(({ topic }) => topic), topics.keeper, topics.filters.openings]
}

/** All that lies under the register's parent level, and what lies beside it; nothing is named twice. */
export function wideFilters(register: Register): string[] {
  const parent = parentLevel(register.tally)
  const own = ownFilters(register)
  return parent === '' ? own : [`${parent}/#`, ...own.filter(topic => !topic.startsWith(`${parent}/`))]
}

export interface HouseListener {
  heard(message: Heard): void
  /** The link was lost, or a filter refused, after it was first live. */
  down(state: LinkState): void
  live(): void
}

/**
 * Listens to a house, wide enough to hear a word that came on a wrong topic; an account that may not read so much
 * hears the contacts' own topics. Returns when what the broker keeps has come.
 * @returns whether words on other topics are heard
 * @throws Stop exit 3 when the broker refuses the contacts' topics; the feed is closed then
 */
export async function listenHouse(
  feed: Feed,
  register: Register,
  listener: HouseListener,
  world: World,
): Promise<{ readonly isWide: boolean }> {
  let refused: LinkState | undefined
  let isListening = false
  const lost = (state: LinkState): void => {
    if (isListening || state.state !== 'refused') listener.down(state)
    else refused = state
  }
  await listenLive(
    feed,
    wideFilters(register),
    message => listener.heard(message),
    lost,
    () => listener.live(),
  )
  try {
    await settled(() => refused !== undefined, world)
    const isWide = refused === undefined
    if (!isWide) {
      refused = undefined
      feed.listen(ownFilters(register))
      await settled(() => refused !== undefined, world)
    }
    if (refused !== undefined) throw new Stop(EXIT.world, `${lostWhy(refused)}; the account bench may (emit access)`)
    isListening = true
    return { isWide }
  } catch (error) {
    await feed.close()
    throw error
  }
}
