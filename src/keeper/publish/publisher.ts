import type { HouseState } from '../../house/state.ts'
import { plainWord } from '../../ledger/plain-word.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { TallyTopics } from '../../protocol/topics.ts'
import { iso } from '../../text/time.ts'
import type { Clock } from '../clock.ts'
import { readingNote, registerNote } from './notes.ts'
import type { Outlet } from './outlet.ts'
import { Stories } from './stories.ts'

/** Readings of more openings than this at once are a storm: they go out together a little later. */
const MANY_MARKS = 8
const STORM_MILLISECONDS = 100

/** The register, the readings and the stories of the house on their way to the broker. */
export class Publisher {
  readonly #outlet: Outlet
  readonly #topics: TallyTopics
  readonly #clock: Clock
  #state: HouseState | undefined
  #names: ReadonlyMap<string, string> = new Map()
  readonly #stories: Stories
  readonly #later = new Set<string>()
  #cancelStorm: (() => void) | undefined
  #publishedAt = Number.NEGATIVE_INFINITY

  constructor(outlet: Outlet, topics: TallyTopics, clock: Clock) {
    this.#outlet = outlet
    this.#topics = topics
    this.#clock = clock
    this.#stories = new Stories(outlet, topics, clock)
  }

  /** The register is new or edited: what left it is cleared at the broker. */
  use(state: HouseState): void {
    const { register, ledger } = state
    if (!register) return
    this.#names = new Map(register.openings.map(({ mark, name }) => [mark, name]))
    const wanted = new Set([this.#topics.register])
    const { opening, plain, story } = this.#topics
    for (const mark of this.#names.keys()) wanted.add(opening(mark)).add(plain(mark)).add(story(mark))
    for (const topic of this.#outlet.topics) if (!wanted.has(topic)) this.#outlet.clear(topic)
    this.#outlet.set(this.#topics.register, JSON.stringify(registerNote(register, ledger.policy)))
    this.#state = state
    this.#publish(this.#names.keys())
    this.#stories.use(state)
  }

  /** These readings say something else. */
  changed(state: HouseState, marks: ReadonlySet<string>): void {
    this.#state = state
    this.#stories.changed(state, marks)
    const now = this.#clock.monotonic()
    if (marks.size > MANY_MARKS && now - this.#publishedAt < STORM_MILLISECONDS) {
      for (const mark of marks) this.#later.add(mark)
      this.#cancelStorm ??= this.#clock.after(STORM_MILLISECONDS, () => {
        this.#cancelStorm = undefined
        this.#publish(this.#later)
        this.#later.clear()
      })
    } else if (marks.size > 0) {
      this.#publishedAt = now
      this.#publish(marks)
    }
  }

  stop(): void {
    this.#cancelStorm?.()
    this.#stories.stop()
  }

  #publish(marks: Iterable<string>): void {
    for (const mark of marks) {
      const reading = this.#state?.readings.get(mark)
      if (reading) this.#put(reading)
    }
  }

  #put(reading: Reading): void {
    const { mark } = reading
    const note = readingNote(this.#names.get(mark) ?? mark, reading)
    // What was read some time ago still is so when it goes out.
    const stamped = () => JSON.stringify({ ...note, asOf: iso(this.#clock.now()) })
    this.#outlet.set(this.#topics.opening(mark), JSON.stringify(note), stamped)
    this.#outlet.set(this.#topics.plain(mark), plainWord(reading))
  }
}
