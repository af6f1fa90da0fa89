import { echoText, parseEcho } from '../../protocol/echo.ts'
import type { Feed, Heard } from '../../protocol/feed.ts'
import type { TallyTopics } from '../../protocol/topics.ts'
import { utf8Text } from '../../text/utf8.ts'
import { type Clock, every } from '../clock.ts'
import { newId } from '../id.ts'
import type { Status } from '../publish/status.ts'
import { ANSWER_MILLISECONDS, ASK_AGAIN_MILLISECONDS, QUESTION } from './challenge.ts'

interface RivalOptions {
  readonly feed: Feed
  readonly topics: TallyTopics
  /** Name of the keeper that asks. */
  readonly keeper: string
  readonly clock: Clock
  readonly status: Pick<Status, 'isMine' | 'disown'>
  /** This keeper must end: another one is at work. */
  ended(why: string): void
}

/**
 * Another keeper's state stands at the broker. A keeper at work answers a question; a dead one, whose state came back
 * with an older store of the broker, does not.
 */
export class Rival {
  readonly #given: RivalOptions
  #id: string | undefined
  #since = ''
  #cancelAsking = (): void => {}
  #cancelWait = (): void => {}

  constructor(given: RivalOptions) {
    this.#given = given
  }

  /**
   * Which state of a keeper stands at the broker.
   * @param since - of that state
   * @param isFirst - on the first link: whether a keeper is at work was asked before it
   * @param hadSession - another client had this keeper's session, and was thrown off: it cannot answer
   */
  met(since: string, { isFirst, hadSession }: { readonly isFirst: boolean; readonly hadSession: boolean }): void {
    const { status } = this.#given
    if (status.isMine(since)) return
    if (isFirst) status.disown(since)
    else if (hadSession) this.#giveWay(since)
    else this.#ask(since)
  }

  #giveWay(since: string): void {
    this.#given.ended(`another keeper of this tally has been at work since ${since}: this one ends`)
  }

  #ask(since: string): void {
    this.stop()
    const { feed, topics, keeper, clock } = this.#given
    this.#since = since
    this.#id = newId(clock.now())
    const topic = topics.echo(this.#id)
    const question = () => void feed.publish(topic, echoText('question', keeper), QUESTION).catch(() => {})
    this.#cancelAsking = every(clock, ASK_AGAIN_MILLISECONDS, question)
    question()
  }

  /** Takes the question back, and what is answered. */
  echo(message: Heard): void {
    const { topics, keeper, clock, status } = this.#given
    if (this.#id === undefined || message.topic !== topics.echo(this.#id) || message.retain) return
    const echo = parseEcho(utf8Text(message.payload, 1_000))
    if (echo?.kind === 'answer' && echo.keeper !== keeper) {
      this.stop()
      this.#giveWay(this.#since)
    } else if (echo?.kind === 'question') {
      this.#cancelAsking()
      this.#cancelWait()
      this.#cancelWait = clock.after(ANSWER_MILLISECONDS, () => {
        this.stop()
        status.disown(this.#since)
      })
    }
  }

  /** The link is down: the next one asks anew. */
  stop(): void {
    this.#id = undefined
    this.#cancelAsking()
    this.#cancelWait()
  }
}
