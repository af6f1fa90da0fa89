import { maybeAgainIn } from '../../house/maybe-again.ts'
import type { HouseState } from '../../house/state.ts'
import { storyTeller } from '../../house/story.ts'
import type { TallyTopics } from '../../protocol/topics.ts'
import { HOUR } from '../../text/time.ts'
import type { Clock } from '../clock.ts'
import type { Outlet } from './outlet.ts'

/** A story follows what changed it at this distance: an opening is a word, its rest word and perhaps a bounce. */
const SETTLED_MILLISECONDS = 3_000

/** What each opening did, on its way to the broker. */
export class Stories {
  readonly #outlet: Outlet
  readonly #topics: TallyTopics
  readonly #clock: Clock
  #state: HouseState | undefined
  readonly #due = new Set<string>()
  #cancel: (() => void) | undefined
  /** Time alone changes a story: a month goes on, and another begins. */
  #toldAllAt = Number.NEGATIVE_INFINITY

  constructor(outlet: Outlet, topics: TallyTopics, clock: Clock) {
    this.#outlet = outlet
    this.#topics = topics
    this.#clock = clock
  }

  /** All are told at once: the register is new or edited, or another part of the time went unheard. */
  use(state: HouseState): void {
    this.#state = state
    this.#toldAllAt = this.#clock.monotonic()
    for (const mark of Object.keys(state.ledger.policy)) this.#due.add(mark)
    this.#tell()
  }

  /** These stories may say something else. */
  changed(state: HouseState, marks: Iterable<string>): void {
    if (state.deaf !== this.#state?.deaf || this.#clock.monotonic() - this.#toldAllAt >= HOUR) this.use(state)
    this.#state = state
    for (const mark of marks) this.#due.add(mark)
    if (this.#due.size > 0) this.#cancel ??= this.#clock.after(SETTLED_MILLISECONDS, this.#tell)
  }

  readonly #tell = (): void => {
    this.#cancel?.()
    this.#cancel = undefined
    const storyOf = storyTeller(this.#state!, this.#clock.now(), maybeAgainIn)
    for (const mark of this.#due) {
      const story = storyOf(mark)
      if (story) this.#outlet.set(this.#topics.story(mark), JSON.stringify(story))
    }
    this.#due.clear()
  }

  stop(): void {
    this.#cancel?.()
  }
}
