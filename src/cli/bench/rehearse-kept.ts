import type { Feed } from '../../protocol/feed.ts'
import type { Opening } from '../../register/types.ts'
import { utf8Text } from '../../text/utf8.ts'
import { listenLive, settled } from '../broker/listening.ts'
import type { World } from '../world.ts'

/** Retained payloads by topic. */
export type KeptWords = ReadonlyMap<string, Uint8Array>

const NOTHING = new Uint8Array(0)

/**
 * What the broker keeps on these topics.
 * @param feed - not open yet; closed at the end
 * @throws Stop exit 3 when the broker refuses or does not answer
 */
export async function keptOn(feed: Feed, topics: readonly string[], world: World): Promise<KeptWords> {
  const kept = new Map<string, Uint8Array>()
  await listenLive(feed, topics, ({ topic, payload, retain }) => {
    if (retain) kept.set(topic, payload)
  })
  try {
    await settled(() => kept.size === topics.length, world)
  } finally {
    await feed.close()
  }
  return kept
}

/**
 * What must be put back on the topic of a contact that was played; undefined where nothing must. Its rest word may stay
 * where nothing stood: every contact's topic has one once it has spoken.
 * @param topic - where it was played; of a contact on a wrong topic not its own
 */
export function toPutBack(
  { topic: own, sender }: Opening,
  topic: string,
  before: KeptWords,
  now: KeptWords,
): Uint8Array | undefined {
  const [stood, stands] = [before.get(topic) ?? NOTHING, now.get(topic) ?? NOTHING]
  // Nothing says that this account may read there.
  if (topic !== own) return stood
  const isRest = stood.length === 0 && utf8Text(stands) === sender.words.rest
  return isRest || Buffer.compare(stood, stands) === 0 ? undefined : stood
}
