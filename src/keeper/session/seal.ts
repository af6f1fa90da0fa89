import { echoText } from '../../protocol/echo.ts'
import type { Feed, Heard, LinkState } from '../../protocol/feed.ts'
import type { TallyTopics } from '../../protocol/topics.ts'
import type { Clock } from '../clock.ts'
import { newId } from '../id.ts'
import { once } from '../once.ts'
import { NEVER } from './hand-over.ts'

/** A session is sealed when nothing has come for so long. */
const QUIET_MILLISECONDS = 1_000
/** A broker may end a link on which a message stays unacknowledged for long: the seal is made anew this often. */
const RENEW_MILLISECONDS = 600_000
/** A seal that has not come back by then waits behind the one before it: the broker hands out one message at a time. */
const COME_MILLISECONDS = 5_000

type Listener = Parameters<Feed['open']>[0]

interface SealOptions {
  readonly feed: Feed
  readonly topics: TallyTopics
  /** Name of this keeper. */
  readonly keeper: string
  readonly clock: Clock
  /** The id of the seal in this store; empty: none is known to wait in the session. */
  readonly seal: string
  /** Resolves when the seal's id is on the disk, with all that was heard before. */
  keep(id: string): Promise<void>
}

/**
 * The keeper's feed, whose session ends in a seal: a message of the keeper's own that stays unacknowledged while nothing
 * else comes. A broker sends it again on the next link (MQTT-4.4.0-1). Where it keeps the session and not the seal,
 * another client took the session and acknowledged what waited in it, or the broker came back from an older store.
 *
 * Acknowledgements leave in the order of their messages (MQTT-4.6.0-2): the next message breaks the seal, and once all is
 * quiet another one is made. A seal counts only when a second one has come behind it, for a broker that hands out one
 * message at a time would hand out nothing more.
 *
 * A broker that sends the seal again on the same link sends by the clock (nats-server, after 30 s), and need not send it
 * at once on the next link: there is no seal there any more.
 *
 * Not seen: a client that leaves the seal unacknowledged, and one that takes the session after this keeper died within
 * moments of a word. MQTT 5 tells of the first where the keeper was connected.
 */
export class SealedFeed implements Feed {
  readonly #given: SealOptions
  #listener: Listener | undefined
  /** What the disk has. */
  #kept: string
  /** What the session should hand over on this link, and whether it did. */
  #expected = ''
  #hasCome = false
  /** Lets the acknowledgement of the seal go; undefined while the session has none. */
  #release: (() => void) | undefined
  /** A seal on its way. */
  #coming: string | undefined
  #isLive = false
  /** This broker hands out one message at a time, or only at QoS 0, or sends again by the clock. */
  #isHopeless = false
  /**
   * It has sent the seal again on a link that was up all the while, as MQTT 3.1.1 lets it: what it does on the next link
   * says nothing of who had the session.
   */
  #sendsByClock = false
  #cancel = (): void => {}
  #atEnd: (() => void) | undefined

  constructor(given: SealOptions) {
    this.#given = given
    this.#kept = given.seal
  }

  listen(filters: readonly string[]): void {
    this.#given.feed.listen(filters)
  }

  publish: Feed['publish'] = (...given) => this.#given.feed.publish(...given)

  open(listener: Listener): void {
    this.#listener = listener
    this.#given.feed.open({ link: state => this.#link(state), heard: message => this.#heard(message) })
  }

  /** What had waited has come. @returns true where the session is the one that was sealed, and the seal is not in it */
  caughtUp(): boolean {
    this.#isLive = true
    this.#later(QUIET_MILLISECONDS)
    const isMissing = this.#expected !== '' && !this.#hasCome
    this.#expected = ''
    // Said once: the next link expects none.
    if (isMissing) void this.#keep('')
    return isMissing
  }

  /** Seals the session before an orderly end; where that takes long, it ends without. What comes from now on stays in it. */
  async last(): Promise<void> {
    if (!this.#isLive || this.#isHopeless || this.#isSealed) return
    const ended = once()
    this.#atEnd = ended.now
    const cancel = this.#given.clock.after(QUIET_MILLISECONDS, ended.now)
    if (this.#coming === undefined) this.#make()
    await ended.when
    cancel()
  }

  close(): Promise<void> {
    this.#cancel()
    return this.#given.feed.close()
  }

  get #isSealed(): boolean {
    return this.#release !== undefined && this.#kept !== ''
  }

  #link(state: LinkState): void {
    if (state.state !== 'refused') {
      this.#cancel()
      this.#release = undefined
      this.#coming = undefined
      this.#isLive = false
      this.#atEnd?.()
    }
    if (state.state === 'live') {
      this.#expected = state.sessionPresent ? this.#kept : ''
      this.#hasCome = false
      this.#isHopeless = this.#sendsByClock
    }
    this.#listener?.link(state)
  }

  #heard(message: Heard): void | Promise<void> {
    const { topics } = this.#given
    if (this.#expected !== '' && message.topic === topics.echo(this.#expected)) {
      this.#hasCome = true
      this.#listener?.heard(message)
      // Before it is acknowledged the disk must know that it will not come again.
      return this.#keep('')
    }
    const isSeal = this.#coming !== undefined && message.topic === topics.echo(this.#coming)
    if (!isSeal && this.#atEnd) return NEVER
    if (message.dup && this.#isSealed && message.topic === topics.echo(this.#kept))
      this.#sendsByClock = this.#isHopeless = true
    if (!isSeal) this.#break()
    const kept = this.#listener?.heard(message)
    return isSeal ? this.#came(this.#coming!, message) : kept
  }

  #came(id: string, { qos }: Heard): void | Promise<void> {
    const before = this.#release
    this.#coming = undefined
    this.#cancel()
    if (qos === 0) {
      this.#isHopeless = true
      return
    }
    const held = once()
    this.#release = held.now
    if (!before) this.#make()
    else {
      this.#later(RENEW_MILLISECONDS)
      void this.#keep(id).then(() => {
        before()
        this.#atEnd?.()
      })
    }
    return held.when
  }

  /** Another message comes behind the seal, and cannot be acknowledged before it. */
  #break(): void {
    if (this.#coming === undefined && !this.#release) return
    this.#coming = undefined
    const release = this.#release
    this.#release = undefined
    if (release && this.#kept !== '') void this.#keep('').then(release)
    else release?.()
    this.#later(QUIET_MILLISECONDS)
  }

  #keep(id: string): Promise<void> {
    this.#kept = id
    return this.#given.keep(id)
  }

  #make(): void {
    const { feed, topics, keeper, clock } = this.#given
    const id = newId(clock.now())
    this.#coming = id
    feed.publish(topics.echo(id), echoText('marker', keeper)).catch(() => {})
    this.#cancel()
    this.#cancel = clock.after(COME_MILLISECONDS, () => {
      this.#isHopeless = true
      this.#break()
    })
  }

  #later(milliseconds: number): void {
    this.#cancel()
    if (!this.#isHopeless) this.#cancel = this.#given.clock.after(milliseconds, () => this.#make())
  }
}
