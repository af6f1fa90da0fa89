import type { Ledger } from '../ledger/apply.ts'
import type { Entry } from '../protocol/entry.ts'
import { MINUTE } from '../text/time.ts'
import { type Clock, StepWatch } from './clock.ts'
import type { Journal } from './journal.ts'
import { clockSentence, wrongClockSentence } from './publish/sentences.ts'
import { DAY_HOURS, type StatusTopic } from './publish/status-topic.ts'
import { BootWatch } from './session/boot-watch.ts'

interface Given {
  readonly clock: Clock
  /** The ledger at the start. */
  readonly ledger: Ledger
  readonly journal: Journal
  readonly status: StatusTopic
  /** Until when the last keeper's link was live, ISO 8601. */
  readonly lastLive: string | undefined
}

/** A clock that is this much behind at the start cannot be right, milliseconds. */
const BEHIND = MINUTE

/** Looks for a clock that was set and for boots that nobody heard, and says so. */
export class Watches {
  readonly #given: Given
  readonly #steps: StepWatch
  readonly #boots: BootWatch
  #keptAt = 0

  constructor(given: Given) {
    this.#given = given
    this.#steps = new StepWatch(given.clock)
    this.#boots = new BootWatch(given.ledger)
    const [now, lastLive] = [given.clock.now(), Date.parse(given.lastLive ?? '')]
    if (lastLive > now + BEHIND) given.status.notice('clock', wrongClockSentence(now, lastLive))
  }

  /** Milliseconds since the last entries. */
  get quietFor(): number {
    return this.#given.clock.monotonic() - this.#keptAt
  }

  /** Words may have been lost until now. */
  gap(): void {
    this.#boots.gap()
  }

  /** These entries are on the disk. */
  kept(entries: readonly Entry[]): void {
    this.#keptAt = this.#given.clock.monotonic()
    this.clock()
    const lost = this.#boots.look(entries)
    if (lost) this.#given.status.notice('boots', lost, DAY_HOURS)
  }

  clock(): void {
    const { clock, journal, status } = this.#given
    const step = this.#steps.look()
    if (step === 0) return
    journal.play({ kind: 'clock', stepMilliseconds: step })
    status.notice('clock', clockSentence(step, clock.now()), DAY_HOURS)
    void status.publish()
  }
}
