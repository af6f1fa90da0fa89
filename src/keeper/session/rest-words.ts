import type { Feed, Heard } from '../../protocol/feed.ts'
import type { Register } from '../../register/types.ts'
import { messageOf } from '../../text/message-of.ts'
import { utf8Text } from '../../text/utf8.ts'
import type { Tell } from '../log-codes.ts'

/**
 * Gives sleeping contacts their retained rest word back at a broker that was rebuilt. Only the owner asks for this: the
 * words are the contacts' own, and the keeper's account need not be allowed to write them.
 */
export class RestWords {
  readonly #feed: Feed
  readonly #tell: Tell
  readonly #standing = new Set<string>()
  readonly #own = new Map<string, string>()

  constructor(feed: Feed, tell: Tell) {
    this.#feed = feed
    this.#tell = tell
  }

  /** A new link: what the broker keeps is not known yet. */
  forget(): void {
    this.#standing.clear()
  }

  /** True when the message is a word that was given back here, on its way round: it is no contact's. */
  isOwn({ topic, payload, retain }: Heard): boolean {
    if (retain) {
      this.#standing.add(topic)
      return false
    }
    const own = this.#own.get(topic)
    if (own === undefined || own !== utf8Text(payload)) return false
    this.#own.delete(topic)
    return true
  }

  /** For every openings-only contact whose topic is empty at the broker. */
  async give({ openings }: Register): Promise<void> {
    let given = 0
    for (const { topic, sender } of openings) {
      const rest = sender.reports === 'openings' ? sender.words.rest : undefined
      if (rest === undefined || this.#standing.has(topic)) continue
      this.#own.set(topic, rest)
      try {
        await this.#feed.publish(topic, rest, { qos: 1, retain: true })
        given++
      } catch (error) {
        this.#own.delete(topic)
        this.#tell(`no rest word for ${topic}: ${messageOf(error)}`, 'rest-words-refused')
      }
    }
    this.#tell(`${given} rest words were given back to the broker, retained`, 'rest-words')
  }
}
