import { type Feed, type Heard, type LinkState, NotTaken } from '../../protocol/feed.ts'
import {
  HOMIE_VALUES,
  type HomieDevice,
  type HomieState,
  homieDevices,
  homieRoot,
  homieTopics,
  parseHomieDescription,
} from '../../protocol/homie.ts'
import { parseKeeper } from '../../protocol/keeper-note.ts'
import { PLAIN_WORDS, type PlainWord } from '../../protocol/plain.ts'
import { parseReading, type ReadingNote } from '../../protocol/reading.ts'
import { parseRegisterNote, type RegisterNote } from '../../protocol/register-note.ts'
import { tallyPlace, tallyTopics } from '../../protocol/topics.ts'
import { messageOf } from '../../text/message-of.ts'
import { utf8Text } from '../../text/utf8.ts'
import type { Tell } from '../log-codes.ts'

export interface HomieOptions {
  /** A link of its own: the convention wants its last will. */
  readonly feed: Feed
  readonly tally: string
  readonly domain: string
  /** Milliseconds since the epoch. */
  now(): number
  readonly tell: Tell
}

/** Kept copies of the broker are waited for until it has been quiet for this long. */
const GATHER_MILLISECONDS = 300

/** The last will of the link that tells of the house: the root is lost, and its children with it. */
export const homieWill = (domain: string, tally: string, marks: readonly string[]) => ({
  topic: homieTopics(domain).of(homieRoot(tally, marks)).state,
  payload: 'lost' satisfies HomieState,
  retain: true,
  qos: 1 as const,
})

/** Tells of the house as devices of the Homie convention, from what the keeper publishes. */
export class HomieDevices {
  readonly #o: HomieOptions
  #note: RegisterNote | undefined
  readonly #readings = new Map<string, ReadingNote>()
  readonly #plains = new Map<string, PlainWord>()
  #isKeeperLive = false
  /** Ids of the devices that were told of. */
  readonly #own = new Set<string>()
  #isTakenTold = false
  readonly #topics
  /** What stands at the broker, by topic. */
  readonly #standing = new Map<string, string>()
  #timer: ReturnType<typeof setTimeout> | undefined
  #isLive = false
  #sending: Promise<void> = Promise.resolve()

  constructor(options: HomieOptions) {
    this.#o = options
    this.#topics = homieTopics(options.domain)
  }

  start(): void {
    const { feed, tally } = this.#o
    const { register, keeper, filters } = tallyTopics(tally)
    const { descriptions, states } = this.#topics
    feed.listen([register, keeper, filters.openings, filters.plains, descriptions, states])
    feed.open({ heard: message => this.#heard(message), link: state => this.#link(state) })
  }

  /** Says that the house is gone on purpose, then lets go of the link. */
  async stop(): Promise<void> {
    clearTimeout(this.#timer)
    await this.#sending
    if (this.#isLive) await this.#takeLeave()
    await this.#o.feed.close()
  }

  /** Where the link goes down meanwhile the last will says it, as that the house is lost. */
  async #takeLeave(): Promise<void> {
    try {
      for (const id of this.#own) await this.#put(this.#topics.of(id).state, 'disconnected')
    } catch (error) {
      this.#o.tell(`homie: the devices could not take their leave: ${messageOf(error)}`, 'homie')
    }
  }

  #link(state: LinkState): void {
    this.#isLive = state.state === 'live'
    if (state.state === 'live') this.#standing.clear()
    if (state.state === 'refused') this.#o.tell(`homie: the broker refuses: ${state.why}`, 'homie')
    this.#soon()
  }

  #heard({ topic, payload }: Heard): void {
    const text = utf8Text(payload)
    const place = tallyPlace(this.#o.tally, topic)
    switch (place?.kind) {
      case 'register':
        this.#note = parseRegisterNote(text) ?? this.#note
        break
      case 'keeper':
        this.#isKeeperLive = parseKeeper(text)?.state === 'live'
        break
      case 'opening': {
        const reading = parseReading(text)
        if (reading) this.#readings.set(place.mark, reading)
        else this.#readings.delete(place.mark)
        break
      }
      case 'plain': {
        const word = PLAIN_WORDS.find(each => each === text)
        if (word) this.#plains.set(place.mark, word)
        else this.#plains.delete(place.mark)
        break
      }
      default:
        if (text !== '' && !this.#standing.has(topic)) this.#standing.set(topic, text)
    }
    this.#soon()
  }

  #soon(): void {
    clearTimeout(this.#timer)
    if (this.#isLive) this.#timer = setTimeout(() => this.#send(), GATHER_MILLISECONDS)
  }

  #send(): void {
    const note = this.#note
    if (!note) return
    const devices = homieDevices(this.#o.tally, note, this.#readings, this.#plains)
    this.#sending = this.#sending
      .then(() => this.#publish(devices))
      .catch(error => {
        // The link went down: all of it is told anew when it is back.
        this.#o.tell(`homie: ${messageOf(error)}`, 'homie')
      })
  }

  async #publish(devices: readonly HomieDevice[]): Promise<void> {
    const root = devices[0]!
    if (this.#isTaken(devices)) return
    // While a keeper cannot keep, what stands is what was known: the devices are told as away.
    const state: HomieState = this.#isKeeperLive ? 'ready' : 'disconnected'
    for (const id of this.#leftOver(devices)) await this.#takeAway(id)
    for (const device of [...devices.slice(1), root]) {
      const topics = this.#topics.of(device.id)
      this.#own.add(device.id)
      const description = this.#described(topics.description, device)
      if (this.#standing.get(topics.description) !== description) {
        await this.#put(topics.state, 'init')
        await this.#put(topics.description, description)
      }
      for (const name of HOMIE_VALUES) await this.#value(topics.value(name), device.values.get(name))
      await this.#put(topics.state, state)
    }
  }

  /** A description keeps its version while it says the same, and has a higher one when it does not. */
  #described(topic: string, { description }: HomieDevice): string {
    const stands = this.#standing.get(topic)
    const { version = 0 } = parseHomieDescription(stands ?? '')
    const same = JSON.stringify({ ...description, version })
    if (stands === same) return same
    return JSON.stringify({ ...description, version: Math.max(version + 1, Math.floor(this.#o.now() / 1000)) })
  }

  /** Whether an opening has the id of a device of another house that is at work: then nothing is told, but that. */
  #isTaken(devices: readonly HomieDevice[]): boolean {
    const root = devices[0]!.id
    const taken = devices.find(({ id }) => {
      const { root: other } = parseHomieDescription(this.#standing.get(this.#topics.of(id).description) ?? '')
      const state = other === undefined || other === root ? undefined : this.#standing.get(this.#topics.of(other).state)
      return state === 'ready' || state === 'init'
    })
    if (taken && !this.#isTakenTold)
      this.#o.tell(
        `homie: ${taken.id} is a device of another house in the domain ${this.#o.domain}, so nothing is told of this one: give its register a homieDomain of its own`,
        'homie',
      )
    this.#isTakenTold = taken !== undefined
    return this.#isTakenTold
  }

  /** Children of this root that no opening of the register has any more. */
  #leftOver(devices: readonly HomieDevice[]): string[] {
    const wanted = new Set(devices.map(({ id }) => id))
    const root = devices[0]!.id
    const left: string[] = []
    for (const [topic, text] of this.#standing) {
      const id = this.#topics.describedBy(topic)
      if (id !== undefined && !wanted.has(id) && parseHomieDescription(text).root === root) left.push(id)
    }
    return left
  }

  /** The account may write the devices of its openings alone, and this is none any more. */
  async #takeAway(id: string): Promise<void> {
    try {
      await this.#remove(id)
    } catch (error) {
      if (!(error instanceof NotTaken && error.isForbidden)) throw error
      this.#standing.delete(this.#topics.of(id).description)
      const what = `${id} is no opening any more, and this account may not take its device away`
      this.#o.tell(`homie: ${what}: clear what is kept below ${this.#topics.root}/${id} with another`, 'homie')
    }
  }

  /** Its state first: the device ceases to exist; what else stands of it is cleared behind that. */
  async #remove(id: string): Promise<void> {
    const topics = this.#topics.of(id)
    this.#own.delete(id)
    for (const topic of [topics.state, topics.description, ...HOMIE_VALUES.map(topics.value)])
      await this.#put(topic, '')
  }

  /** A value that is no longer known is taken back, so that it is not read as one of now. */
  async #value(topic: string, value: string | undefined): Promise<void> {
    if (value !== undefined || this.#standing.has(topic)) await this.#put(topic, value ?? '')
  }

  async #put(topic: string, payload: string): Promise<void> {
    if (this.#standing.get(topic) === payload) return
    await this.#o.feed.publish(topic, payload, { qos: 1, retain: true })
    this.#standing.set(topic, payload)
  }
}
