import type { Credentials } from '../../link/node/links.ts'
import { type KeeperNote, parseKeeper } from '../../protocol/keeper-note.ts'
import { parseReading, type ReadingNote } from '../../protocol/reading.ts'
import { parseStory, type StoryNote } from '../../protocol/story.ts'
import { tallyPlace, tallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'
import { utf8Text } from '../../text/utf8.ts'
import type { World } from '../world.ts'
import { brokerUrlOf, linkTo } from './link.ts'
import { listenLive, lostWhy, waitFor } from './listening.ts'

/** What a keeper has published of a house; any computer that may read the tally is given it. */
export interface Published {
  /** Absent: no keeper has said anything of itself. */
  readonly keeper?: KeeperNote
  /** In the order of the register; openings of which nothing is published are left out. */
  readonly readings: readonly ReadingNote[]
  readonly stories: ReadonlyMap<string, StoryNote>
  /** Why something of it may not have been handed over: the broker refuses a part of it, or the link was lost. */
  readonly refused?: string
}

/** How long the broker is given to hand over what it keeps: all of it, and the first of it. */
const SECONDS = { all: 3, first: 1 }

/**
 * Asks the broker for what the keeper has published.
 * @throws Stop exit 3 when the broker does not answer
 */
export async function readPublished(register: Register, account: Credentials, world: World): Promise<Published> {
  const topics = tallyTopics(register.tally)
  const readings = new Map<string, ReadingNote>()
  const stories = new Map<string, StoryNote>()
  let keeper: KeeperNote | undefined
  let refused: string | undefined
  const feed = linkTo(brokerUrlOf(register), account)
  await listenLive(
    feed,
    [topics.keeper, topics.filters.openings, topics.filters.stories],
    ({ topic, payload }) => {
      const text = utf8Text(payload)
      const place = tallyPlace(register.tally, topic)
      if (place?.kind === 'keeper') keeper = parseKeeper(text)
      if (place?.kind === 'opening') keep(readings, place.mark, parseReading(text))
      if (place?.kind === 'story') keep(stories, place.mark, parseStory(text))
    },
    state => {
      refused = lostWhy(state)
    },
  )
  const { openings } = register
  const isWhole = (): boolean =>
    keeper !== undefined && openings.every(({ mark }) => readings.has(mark) && stories.has(mark))
  try {
    if (await waitFor(() => isWhole() || readings.size > 0, SECONDS.first, world))
      await waitFor(isWhole, SECONDS.all, world)
  } finally {
    await feed.close()
  }
  return {
    ...(keeper === undefined ? {} : { keeper }),
    ...(refused === undefined ? {} : { refused }),
    readings: openings.flatMap(({ mark }) => readings.get(mark) ?? []),
    stories,
  }
}

function keep<T>(notes: Map<string, T>, mark: string, note: T | undefined): void {
  if (note !== undefined) notes.set(mark, note)
}
