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

/** Which of the words that are heard were played, and which somebody else said: the contact itself, most likely. */
export class SpokenWords {
  readonly #played = new Map<string, number>()
  readonly #others = new Map<string, string>()
  /** Words may have come that were not heard. */
  hasGap = false

  /** A word, or a last will, that is still to be heard. */
  play(topic: string, payload: string): void {
    const key = JSON.stringify([topic, payload])
    this.#played.set(key, (this.#played.get(key) ?? 0) + 1)
  }

  hear(topic: string, payload: string): void {
    const key = JSON.stringify([topic, payload])
    const expected = this.#played.get(key) ?? 0
    if (expected > 0) this.#played.set(key, expected - 1)
    else this.#others.set(topic, payload)
  }

  /** The last word that was not played; undefined where there was none. */
  other(topic: string): string | undefined {
    return this.#others.get(topic)
  }

  /** What stood there before is still the newest that is known of the contact. */
  isAlone(topic: string): boolean {
    return !this.hasGap && !this.#others.has(topic)
  }
}

/**
 * What must be put back on the topic of a contact that was played; undefined where nothing must. Its rest word may stay
 * where nothing stood: every contact's topic has one once it has spoken. Where somebody else spoke, what stood before is
 * out of date: a word of theirs stays, and so does the last will; a position that was played gives way to that will.
 * @param topic - where it was played; of a contact on a wrong topic not its own
 * @param will - what the contact's last will says
 */
export function toPutBack(
  { topic: own, sender }: Opening,
  topic: string,
  will: string,
  kept: { readonly before: KeptWords; readonly now: KeptWords },
  spoken: Pick<SpokenWords, 'isAlone' | 'other'>,
): Uint8Array | undefined {
  const [stood, stands] = [kept.before.get(topic) ?? NOTHING, kept.now.get(topic) ?? NOTHING]
  // Nothing says that this account may read there.
  if (topic !== own) return stood
  const text = utf8Text(stands)
  if (!spoken.isAlone(topic)) {
    const mayStay = [will, '', spoken.other(topic)].includes(text)
    return mayStay ? undefined : new TextEncoder().encode(will)
  }
  const isRest = stood.length === 0 && text === sender.words.rest
  return isRest || Buffer.compare(stood, stands) === 0 ? undefined : stood
}
