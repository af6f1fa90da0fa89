import type { Ears } from '../ledger/hear.ts'
import { hear } from '../ledger/hear.ts'
import type { Entry, Feed, Heard } from '../ledger/types.ts'
import { parentLevel } from '../register/topics.ts'
import type { Register } from '../register/types.ts'
import { listenLive, waitFor } from './listening.ts'
import type { ProveRules, SeenMessage, SeenOpening } from './prove-seen.ts'
import type { World } from './world.ts'

/** What lies under the register's parent level, and every contact's topic beside it; nothing is named twice. */
export function filtersOf(register: Register): string[] {
  const parent = parentLevel(register.tally)
  const beside = register.openings
    .map(({ topic }) => topic)
    .filter(topic => parent === '' || !topic.startsWith(`${parent}/`))
  return parent === '' ? [`${register.tally}/keeper`, ...beside] : [`${parent}/#`, ...beside]
}

/** Hears a house while one of its contacts is tried. */
export class Watch {
  readonly #ears: Ears
  readonly #tally: string
  readonly #world: World
  readonly #newId: () => string
  #zero = 0
  #messages: SeenMessage[] = []
  #entries: Entry[] = []
  #keeper: string | undefined

  constructor(register: Register, ears: Ears, world: World, newId: () => string) {
    this.#ears = ears
    this.#tally = register.tally
    this.#world = world
    this.#newId = newId
  }

  /** Last state that a keeper published. */
  get keeper(): string | undefined {
    return this.#keeper
  }

  /** Live words of the house as entries. */
  get entries(): readonly Entry[] {
    return this.#entries
  }

  hear(message: Heard): void {
    const text = new TextDecoder().decode(message.payload.subarray(0, 10_000))
    if (message.topic === `${this.#tally}/keeper`) this.#keeper = text
    if (message.topic.startsWith(`${this.#tally}/`) || this.#zero === 0) return
    const now = this.#world.now()
    // The publisher's own flag comes through; what is heard here came after the key press, so it is live.
    const entry = hear(
      this.#ears,
      { ...message, retain: false },
      { id: this.#newId(), at: new Date(now).toISOString() },
    )
    if (entry) this.#entries.push(entry)
    this.#messages.push({
      seconds: (now - this.#zero) / 1000,
      topic: message.topic,
      text: text.slice(0, 200),
      qos: message.qos,
      retained: message.retain,
      ...(entry ? { what: entry.what } : {}),
      ...(entry?.revision === undefined ? {} : { revision: entry.revision }),
    })
  }

  /**
   * Watches one opening from the key press on.
   * @param comeIn - dials under the contact's client id; absent: the opening is left to its rest word
   */
  async opening(
    rules: ProveRules,
    comeIn: (() => Feed) | undefined,
    tick: (seconds: number) => void,
  ): Promise<SeenOpening> {
    this.#zero = this.#world.now()
    const messages: SeenMessage[] = []
    this.#messages = messages
    const passed = () => (this.#world.now() - this.#zero) / 1000
    const seconds = (): void => tick(Math.round(passed()))
    const words = () => messages.filter(({ topic }) => topic === rules.topic)
    const will = 1.5 * rules.keepAliveSeconds + 6.5
    const first = () => words().length > 0 || messages.some(({ text }) => text === rules.opened)
    // A contact that connected and fell silent is still told by its last will.
    await waitFor(first, 2 * rules.firstWordSeconds + will, this.#world, seconds)
    if (!words().some(({ what }) => what === 'opened')) {
      await waitFor(() => words().some(({ what }) => what === 'opened'), first() ? 1.5 : 0, this.#world, seconds)
      if (!words().some(({ what }) => what === 'opened')) return this.#end(messages)
    }
    if (comeIn) {
      const feed = comeIn()
      await listenLive(feed, [], () => {})
      const takenOverAt = passed()
      await waitFor(
        () => words().some(({ what, seconds: at }) => (what === 'rest' || what === 'gone') && at >= takenOverAt - 0.2),
        1.5,
        this.#world,
      )
      await feed.close()
      return { ...this.#end(messages), takenOverAt }
    }
    const rested = () => words().at(-1)?.what === 'rest'
    if (rules.reports === 'openings') await waitFor(rested, will, this.#world, seconds)
    // A twin's word, or a second word, may follow closely.
    await waitFor(() => false, 0.6, this.#world)
    return this.#end(messages)
  }

  #end(messages: readonly SeenMessage[]): SeenOpening {
    this.#messages = []
    return { messages: [...messages] }
  }
}

/** What a new listener is given as the retained word of a topic; `null` when nothing is kept. */
export async function keptWord(feed: Feed, topic: string, world: World): Promise<string | null> {
  let kept: string | undefined
  await listenLive(feed, [topic], ({ payload, retain, topic: where }) => {
    if (retain && where === topic) kept = new TextDecoder().decode(payload.subarray(0, 10_000))
  })
  await waitFor(() => kept !== undefined, 1, world)
  await feed.close()
  return kept ?? null
}
