import type { Ears } from '../../ledger/hear.ts'
import { hear } from '../../ledger/hear.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Feed, Heard, LinkState } from '../../protocol/feed.ts'
import { latestWill } from '../../protocol/last-will.ts'
import type { Register } from '../../register/types.ts'
import { iso } from '../../text/time.ts'
import { utf8Text } from '../../text/utf8.ts'
import { listenLive, lostWhy, waitFor } from '../broker/listening.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { HouseSigns } from './house-signs.ts'
import { CLOSING_SECONDS, type ProveRules, type SeenMessage, type SeenOpening } from './prove-seen.ts'

/** Hears a house while one of its contacts is tried. */
export class Watch {
  readonly #ears: Ears
  readonly signs: HouseSigns
  readonly #world: World
  readonly #newId: () => string
  #zero = 0
  #messages: SeenMessage[] = []
  #entries: Entry[] = []
  readonly #version: () => number
  /** Why the link is down; what the contact says meanwhile is not heard. */
  #lost: string | undefined
  #watching = false

  /** @param version - of MQTT, as the link speaks it: 3.1.1 (4) hides the publisher's retain flag */
  constructor(register: Register, ears: Ears, world: World, newId: () => string, version: () => number = () => 5) {
    this.#version = version
    this.#ears = ears
    this.signs = new HouseSigns(register)
    this.#world = world
    this.#newId = newId
  }

  /** Live words of the house as entries. */
  get entries(): readonly Entry[] {
    return this.#entries
  }

  /** The link was lost, or a filter refused, after it was first live. */
  lost(state: LinkState): void {
    this.#lost = lostWhy(state)
  }

  /** The link is live (again); what was missed during an opening stays missed. */
  live(): void {
    if (!this.#watching) this.#lost = undefined
  }

  get isLost(): boolean {
    return this.#lost !== undefined
  }

  /** @throws Stop exit 3 when the link is down, or was while an opening was watched: silence would say nothing */
  mustListen(): void {
    if (this.#lost !== undefined)
      throw new Stop(EXIT.world, `${this.#lost}. That says nothing of the contact: nothing was kept, try again`)
  }

  hear(message: Heard): void {
    const text = utf8Text(message.payload, 10_000)
    if (this.signs.note(message.topic, text)) return
    const isOld = this.#version() === 4 && message.retain
    if (this.#zero === 0 || isOld) return
    const now = this.#world.now()
    // The publisher's own flag comes through; what is heard here came after the key press, so it is live.
    const entry = hear(this.#ears, { ...message, retain: false }, { id: this.#newId(), at: iso(now) })
    if (entry) this.#entries.push(entry)
    this.#messages.push({
      seconds: (now - this.#zero) / 1000,
      topic: message.topic,
      text: text.slice(0, 200),
      qos: message.qos,
      // With 3.1.1 a live word always comes with the flag cleared (MQTT-3.3.1-9).
      ...(this.#version() === 5 ? { retained: message.retain } : {}),
      ...(entry ? { what: entry.what } : {}),
      ...(entry?.revision === undefined ? {} : { revision: entry.revision }),
      ...(entry?.boots === undefined ? {} : { boots: entry.boots }),
    })
  }

  /**
   * Watches one opening from the key press on.
   * @param comeIn - dials under the contact's client id; absent: the opening is left to its end
   * @param shut - asks for the closing of a contact that reports it
   */
  async opening(
    rules: ProveRules,
    comeIn: (() => Feed) | undefined,
    tick: (seconds: number) => void,
    shut: () => void = () => {},
  ): Promise<SeenOpening> {
    this.mustListen()
    this.#watching = true
    try {
      const seen = await this.#watch(rules, comeIn, tick, shut)
      this.mustListen()
      return seen
    } finally {
      this.#watching = false
    }
  }

  async #watch(
    rules: ProveRules,
    comeIn: (() => Feed) | undefined,
    tick: (seconds: number) => void,
    shut: () => void,
  ): Promise<SeenOpening> {
    this.#zero = this.#world.now()
    const messages: SeenMessage[] = []
    this.#messages = messages
    const passed = () => (this.#world.now() - this.#zero) / 1000
    const seconds = (): void => tick(Math.round(passed()))
    const words = () => messages.filter(({ topic }) => topic === rules.topic)
    const will = latestWill(rules.keepAliveSeconds) + 0.5
    // A word on another contact's topic may be that contact's: it shortens no wait.
    const isStray = ({ topic, text }: SeenMessage) => text === rules.opened && !rules.others.has(topic)
    const first = () => words().length > 0 || messages.some(isStray)
    // A contact that connected and fell silent is still told by its last will.
    await this.#wait(first, 2 * rules.firstWordSeconds + will, seconds)
    if (!words().some(({ what }) => what === 'opened')) {
      await this.#wait(() => words().some(({ what }) => what === 'opened'), first() ? 1.5 : 0, seconds)
      if (!words().some(({ what }) => what === 'opened')) return this.#end(messages)
    }
    if (comeIn) {
      const feed = comeIn()
      await listenLive(feed, [], () => {})
      const takenOverAt = passed()
      await this.#wait(
        () => words().some(({ what, seconds: at }) => (what === 'rest' || what === 'gone') && at >= takenOverAt - 0.2),
        1.5,
      )
      await feed.close()
      return { ...this.#end(messages), takenOverAt }
    }
    const rested = () => words().at(-1)?.what === 'rest'
    if (rules.reports === 'openings') await this.#wait(rested, will, seconds)
    else {
      shut()
      await this.#wait(() => words().at(-1)?.what === 'closed', CLOSING_SECONDS, seconds)
    }
    // A twin's word, or a second word, may follow closely.
    await this.#wait(() => false, 0.6)
    return this.#end(messages)
  }

  #wait(look: () => boolean, seconds: number, tick?: () => void): Promise<boolean> {
    const listening = (): boolean => {
      this.mustListen()
      return look()
    }
    return waitFor(listening, seconds, this.#world, tick)
  }

  #end(messages: readonly SeenMessage[]): SeenOpening {
    this.#messages = []
    return { messages: [...messages] }
  }
}

/**
 * What a new listener is given as the retained word of a topic; `null` when nothing is kept.
 * @throws Stop exit 3 when the broker does not let it listen
 */
export async function keptWord(feed: Feed, topic: string, world: World): Promise<string | null> {
  let kept: string | undefined
  let lost: string | undefined
  await listenLive(
    feed,
    [topic],
    ({ payload, retain, topic: where }) => {
      if (retain && where === topic) kept = utf8Text(payload, 10_000)
    },
    state => {
      lost = lostWhy(state)
    },
  )
  try {
    await waitFor(() => kept !== undefined || lost !== undefined, 1, world)
  } finally {
    await feed.close()
  }
  if (lost !== undefined) throw new Stop(EXIT.world, `${lost}. Nothing was kept, try again`)
  return kept ?? null
}
