import {
  ANSWER_MILLISECONDS,
  type Answer,
  type Asked,
  answerIn,
  NO_ANSWER,
  sayMessage,
  takeAnswer,
} from '../../house/asked.ts'
import { newId } from '../../keeper/id.ts'
import { linkReason } from '../../link/link-reason.ts'
import type { Feed, LinkState } from '../../protocol/feed.ts'
import type { Say } from '../../protocol/say.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { refusedWhy } from '../broker/listening.ts'
import { EXIT, Stop, type World } from '../world.ts'

const SECONDS = ANSWER_MILLISECONDS / 1000

/** A say on its way, and who waits for its answer. */
interface Waiting extends Asked {
  done(answer: Answer): void
}

/** What is said; the id is drawn where none is given. */
export type Saying = Omit<Say, 'v' | 'id'> & { readonly id?: string }

/** Says things to the keeper over one link and waits for its answers. */
export class Sayer {
  readonly #feed: Feed
  readonly #tally: string
  readonly #world: World
  #waiting: readonly Waiting[] = []
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
      heard: message => {
        const came = answerIn(this.#tally, message)
        if (came) this.#answered(came.id, came.answer)
      },
    })
  }

  /**
   * Publishes one say and waits for the keeper's answer.
   * @returns the answer and the id under which it was said
   * @throws Stop exit 3 when the broker or the keeper does not answer
   */
  async say(mark: string, saying: Saying): Promise<Answer & { readonly id: string }> {
    const say: Say = { v: 1, ...saying, id: saying.id ?? newId(this.#world.now()) }
    await this.#live()
    const answer = await this.#answerTo(mark, say)
    if (answer !== NO_ANSWER) return { ...answer, id: say.id }
    throw new Stop(
      EXIT.world,
      `no keeper of ${this.#tally} answered within ${SECONDS} s. If one is down, it will hear this when it starts. The accounts hand and bench may write ${tallyTopics(this.#tally).filters.says} (emit access)`,
    )
  }

  async close(): Promise<void> {
    await this.#feed.close()
  }

  #answerTo(mark: string, say: Say): Promise<Answer> {
    return new Promise((done, failed) => {
      const timer = setTimeout(() => this.#answered(say.id, NO_ANSWER), ANSWER_MILLISECONDS)
      const settle = (answer: Answer): void => {
        clearTimeout(timer)
        done(answer)
      }
      this.#waiting = [...this.#waiting, { asking: [{ say }], answers: new Map(), done: settle }]
      const { topic, payload } = sayMessage(this.#tally, mark, say)
      this.#feed.publish(topic, payload).catch((error: Error) => {
        failed(new Stop(EXIT.world, `${mark} ${say.what} could not be said: ${error.message}`))
        this.#answered(say.id, NO_ANSWER)
      })
    })
  }

  #answered(id: string, answer: Answer): void {
    const taken = takeAnswer(this.#waiting, id, answer)
    if (!taken) return
    this.#waiting = taken.waiting
    taken.group.done(answer)
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
        settle(new Stop(EXIT.world, `the broker did not answer within ${SECONDS} s${why}`))
      }, ANSWER_MILLISECONDS)
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
): Promise<Answer & { readonly id: string }> {
  const sayer = new Sayer(feed, tally, world)
  sayer.open()
  try {
    return await sayer.say(mark, saying)
  } finally {
    await sayer.close()
  }
}
