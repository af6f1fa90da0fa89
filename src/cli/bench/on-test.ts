import type { Feed } from '../../protocol/feed.ts'
import { listed } from '../../text/lists.ts'
import { messageOf } from '../../text/message-of.ts'
import { iso, MINUTE } from '../../text/time.ts'
import { Sayer } from '../tally/say-over.ts'
import { EXIT, Stop, type World } from '../world.ts'

/** A test ends by itself this long after it was said last: also when this process was killed. */
const LEASE_MILLISECONDS = 3 * MINUTE
/** Often enough that a last will of a minute later still falls into it. */
const RENEW_MILLISECONDS = 1.5 * MINUTE

/** Openings that the keeper has put on test: what their contacts say is kept and counts nothing. */
export class TestLease {
  readonly #sayer: Sayer
  readonly #marks: readonly string[]
  readonly #world: World
  readonly #timer: ReturnType<typeof setInterval>
  #lost: string | undefined

  private constructor(sayer: Sayer, marks: readonly string[], world: World) {
    this.#sayer = sayer
    this.#marks = marks
    this.#world = world
    this.#timer = setInterval(() => void this.#renew(), RENEW_MILLISECONDS)
    this.#timer.unref()
  }

  /**
   * @param feed - not open yet, of an account that may say
   * @throws Stop exit 1 when the keeper refuses, exit 3 when it does not answer; nothing is on test then
   */
  static async begin(feed: Feed, tally: string, marks: readonly string[], world: World): Promise<TestLease> {
    const sayer = new Sayer(feed, tally, world)
    sayer.open()
    const lease = new TestLease(sayer, marks, world)
    try {
      await lease.#say(LEASE_MILLISECONDS)
      return lease
    } catch (error) {
      await lease.end()
      throw error
    }
  }

  /** Why the keeper can no longer be told that the test goes on; undefined while all is well. */
  get lost(): string | undefined {
    return this.#lost
  }

  /** Says nothing more: a word that is still on its way falls into what is left of the test. */
  async leave(): Promise<void> {
    clearInterval(this.#timer)
    await this.#sayer.close()
  }

  /** Ends the test now; where the keeper cannot be told, it ends by itself. */
  async end(): Promise<void> {
    clearInterval(this.#timer)
    try {
      await this.#say(0)
    } catch (error) {
      if (!(error instanceof Stop)) throw error
      this.#world.stderr.write(
        `the end of the test could not be said: it ends by itself within ${LEASE_MILLISECONDS / MINUTE} minutes\n`,
      )
    } finally {
      await this.#sayer.close()
    }
  }

  async #renew(): Promise<void> {
    try {
      await this.#say(LEASE_MILLISECONDS)
    } catch (error) {
      this.#lost = messageOf(error)
    }
  }

  async #say(milliseconds: number): Promise<void> {
    const until = iso(this.#world.now() + milliseconds)
    const answers = await Promise.all(
      this.#marks.map(async mark => ({ mark, ...(await this.#sayer.say(mark, { what: 'on-test', until })) })),
    )
    const refused = answers.flatMap(({ mark, ok, problem = 'no reason was given' }) =>
      ok ? [] : [`${mark}: ${problem}`],
    )
    if (refused.length > 0) throw new Stop(EXIT.input, `the keeper does not put on test ${listed(refused)}`)
  }
}
