import type { Ledger } from '../ledger/apply.ts'
import type { Entry } from '../protocol/entry.ts'
import { iso } from '../text/time.ts'
import type { CheckedClock } from './clock.ts'
import type { Journal } from './journal.ts'
import { clockSentence, clockSetSentence, wrongClockSentence } from './publish/sentences.ts'
import { DAY_HOURS, type StatusTopic } from './publish/status-topic.ts'
import { BootWatch } from './session/boot-watch.ts'
import type { LinkSide } from './session/link-side.ts'

interface WatchesOptions {
  readonly clock: CheckedClock
  /** The ledger at the start. */
  readonly ledger: Ledger
  readonly journal: Journal
  readonly status: StatusTopic
  readonly link: LinkSide
}

/** Looks for a clock that was set and for boots that nobody heard, and says so. */
export class Watches {
  readonly #given: WatchesOptions
  readonly #boots: BootWatch
  #keptAt = 0
  #isWrong: boolean

  constructor(given: WatchesOptions) {
    this.#given = given
    this.#boots = new BootWatch(given.ledger)
    const wrong = given.clock.wrong()
    this.#isWrong = wrong !== undefined
    if (wrong !== undefined) given.status.notice('clock', wrongClockSentence(wrong, given.clock))
  }

  /** Milliseconds since the last entries. */
  get quietFor(): number {
    return this.#given.clock.monotonic() - this.#keptAt
  }

  /** Words may have been lost until now. A clock that was set meanwhile must not make that time look short. */
  gap(): void {
    this.clock()
    this.#boots.gap()
  }

  /** These entries are on the disk. */
  kept(entries: readonly Entry[]): void {
    this.#keptAt = this.#given.clock.monotonic()
    this.#boots.look(entries, this.#given.journal.state.ledger)
    this.#tellBoots()
  }

  /** What is looked at now and then. */
  beat(): void {
    this.clock()
    this.#tellBoots()
  }

  /** The keeper ends: what it has not told of would be lost. */
  end(): void {
    this.#tellBoots(Number.POSITIVE_INFINITY)
  }

  #tellBoots(now = this.#given.clock.monotonic()): void {
    const lost = this.#boots.due(now)
    if (lost) this.#given.status.notice('boots', lost.sentence, DAY_HOURS, { marks: lost.marks })
  }

  /** The machine goes by this clock from now on. */
  begin(): void {
    this.#given.journal.play({ kind: 'clock', stepMilliseconds: 0, isWrong: this.#isWrong })
  }

  /** Looks at the clock: before a word is taken. */
  clock(): void {
    const { clock, journal, status, link } = this.#given
    const step = clock.look()
    const wrong = clock.wrong()
    const [wasWrong, isWrong] = [this.#isWrong, wrong !== undefined]
    if (step === 0 && isWrong === wasWrong) return
    this.#isWrong = isWrong
    link.clockSet(step)
    // One that was ahead; where it is known until when the link was live, that takes its place.
    journal.remember('lastLive', '')
    // At once on the disk: a keeper that starts soon must not take the clock for one that is behind.
    void journal.keepFact('timeKnown', iso(clock.known))
    journal.play({ kind: 'clock', stepMilliseconds: step, isWrong })
    if (wrong !== undefined && !wasWrong) status.notice('clock', wrongClockSentence(wrong, clock))
    else {
      const sentence = wasWrong && !isWrong && step >= 0 ? clockSetSentence : clockSentence
      status.notice('clock', sentence(step, clock.now()), DAY_HOURS, { seconds: Math.round(step / 1000) })
    }
    void status.publish()
  }
}
