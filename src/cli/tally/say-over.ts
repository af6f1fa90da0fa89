import { newId } from '../../keeper/id.ts'
import type { Feed, LinkState } from '../../protocol/feed.ts'
import type { HeardNote } from '../../protocol/heard-note.ts'
import { parseHeard } from '../../protocol/heard-note.ts'
import type { Say } from '../../protocol/say.ts'
import { tallyPlace, tallyTopics } from '../../protocol/topics.ts'
import { utf8Text } from '../../text/utf8.ts'
import { refusedWhy } from '../broker/listening.ts'
import { linkReason } from '../broker/reason.ts'
import { EXIT, Stop, type World } from '../world.ts'

/** How long a keeper may take to answer, and a broker to let us in. */
const ANSWER_SECONDS = 10

/** What is said; the id is drawn where none is given. */
export type Saying = Omit<Say, 'v' | 'id'> & { readonly id?: string }

/** Says things to the keeper over one link and waits for its answers. */
export class Sayer {
  readonly #feed: Feed
  readonly #tally: string
  readonly #world: World
  readonly #waiting = new Map<string, (note: HeardNote) => void>()
  #state: LinkState | undefined
  #liveListeners: (() => void)[] = []

  /** @param feed - not open yet; closed by `close` */
  constructor(feed: Feed, tally: string, world: World) {
    this.#feed = feed
    this.#tally = tally
    this.#world = world
  }

  open(): void {
    this.#feed.listen([tallyTopics(this.#tally).filters.answers])
    this.#feed.open({
      link: state => {
        this.#state = state
        for (const listener of this.#liveListeners) listener()
      },
      heard: ({ topic, payload, retain }) => {
        const place = tallyPlace(this.#tally, topic)
        const note = retain ? undefined : parseHeard(utf8Text(payload, 10_000))
        if (place?.kind === 'heard' && note) this.#waiting.get(place.id)?.(note)
      },
    })
  }

  /**
   * Publishes one say and waits for the keeper's answer.
   * @returns the answer and the id under which it was said
   * @throws Stop exit 3 when the broker or the keeper does not answer
   */
  async say(mark: string, saying: Saying): Promise<HeardNote & { readonly id: string }> {
    const say: Say = { v: 1, ...saying, id: saying.id ?? newId(this.#world.now()) }
    await this.#live()
    const { answer, cancel } = this.#answer(say.id)
    try {
      await this.#feed.publish(tallyTopics(this.#tally).say(mark), JSON.stringify(say))
    } catch (error) {
      cancel()
      throw new Stop(EXIT.world, `${mark} ${say.what} could not be said: ${(error as Error).message}`)
    }
    return { ...(await answer), id: say.id }
  }

  async close(): Promise<void> {
    await this.#feed.close()
  }

  #answer(id: string): { answer: Promise<HeardNote>; cancel(): void } {
    let cancel = (): void => {}
    const answer = new Promise<HeardNote>((done, failed) => {
      const late = (): void =>
        failed(
          new Stop(
            EXIT.world,
            `no keeper of ${this.#tally} answered within ${ANSWER_SECONDS} s. If one is down, it will hear this when it starts; is this account allowed to write ${tallyTopics(this.#tally).filters.says}?`,
          ),
        )
      const timer = setTimeout(late, ANSWER_SECONDS * 1000)
      cancel = () => {
        clearTimeout(timer)
        this.#waiting.delete(id)
      }
      this.#waiting.set(id, done)
    }).finally(() => cancel())
    answer.catch(() => {})
    return { answer, cancel: () => cancel() }
  }

  /** Resolves when the link is up. */
  #live(): Promise<void> {
    return new Promise((done, failed) => {
      const settle = (error?: Stop): void => {
        clearTimeout(timer)
        this.#liveListeners = this.#liveListeners.filter(each => each !== look)
        if (error) failed(error)
        else done()
      }
      const look = (): void => {
        const state = this.#state
        if (state?.state === 'live') setImmediate(settle)
        else if (state?.state === 'refused') settle(new Stop(EXIT.world, refusedWhy(state)))
      }
      const timer = setTimeout(() => {
        const why = this.#state?.state === 'down' && this.#state.why ? `: ${linkReason(this.#state.why)}` : ''
        settle(new Stop(EXIT.world, `the broker did not answer within ${ANSWER_SECONDS} s${why}`))
      }, ANSWER_SECONDS * 1000)
      this.#liveListeners.push(look)
      look()
    })
  }
}

/**
 * Says one thing to the keeper over a link of its own.
 * @param feed - not open yet; it is closed afterwards
 * @throws Stop exit 3 when the broker or the keeper does not answer
 */
export async function sayOver(
  feed: Feed,
  tally: string,
  mark: string,
  saying: Saying,
  world: World,
): Promise<HeardNote & { readonly id: string }> {
  const sayer = new Sayer(feed, tally, world)
  sayer.open()
  try {
    return await sayer.say(mark, saying)
  } finally {
    await sayer.close()
  }
}
