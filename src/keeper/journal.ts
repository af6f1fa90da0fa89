import type { Arrival, HouseState } from '../house/state.ts'
import type { Ledger } from '../ledger/apply.ts'
import type { Heard } from '../protocol/feed.ts'
import type { Clock } from './clock.ts'
import { Disk } from './disk.ts'
import type { JournalHooks, JournalOptions } from './journal-options.ts'
import { LiveFacts } from './live-facts.ts'
import { type Outcome, playAll } from './outcome.ts'
import { eventsOf, type Item, nextOf, type Planned } from './planned.ts'
import { Redelivery } from './session/redelivery.ts'
import type { TallyStore } from './store/store.ts'
import { inTurn } from './turns.ts'

/** Messages at QoS 0 kept in memory while the disk refuses; more are dropped, and said. */
const MOST_WAITING = 20_000

/**
 * Plays what happens into the machine and keeps its entries. Events that come while a transaction is under way share the
 * next one; the state after it holds, and its messages may be acknowledged, only when it is on the disk.
 */
export class Journal {
  readonly #store: TallyStore<Ledger>
  readonly #clock: Clock
  #hooks: JournalHooks | undefined
  readonly #session: Redelivery
  #state: HouseState
  #queue: Item[] = []
  /** Committed, and not known to be on the disk yet; whether time passed meanwhile. */
  #inHand: readonly Item[] = []
  #isPassDue = false
  readonly #facts: LiveFacts
  #scheduled = false
  readonly #disk: Disk
  #ended = false
  /** The ledger is being counted again. */
  #paused = false
  #dropped = 0

  constructor({ store, state, clock, liveUntil, waits }: JournalOptions) {
    this.#store = store
    this.#state = state
    this.#clock = clock
    this.#facts = new LiveFacts(liveUntil)
    const trouble = (problem: string | undefined): void => {
      if (problem !== undefined) this.#letFactsGo()
      this.#hooks?.trouble(problem)
    }
    this.#disk = new Disk({ store, clock, waits, trouble })
    // What is assumed now must not be assumed again of the time from now on.
    this.remember('deaf', JSON.stringify(state.deaf))
    this.#session = new Redelivery(store, () => clock.awake())
  }

  /** @param hooks - who is told from now on */
  open(hooks: JournalHooks): void {
    this.#hooks = hooks
  }

  /** The house as it is on the disk. */
  get state(): HouseState {
    return this.#state
  }

  /** Messages that are not on the disk yet. */
  get waiting(): number {
    return [...this.#inHand, ...this.#queue].filter(({ word }) => word).length
  }

  /** Resolves when what the message says is on the disk. */
  take(heard: Heard, arrival: Arrival): Promise<void> {
    if (this.#queue.length >= MOST_WAITING && heard.qos === 0) {
      this.#dropped++
      return Promise.resolve()
    }
    this.#session.came(heard)
    return new Promise(done => this.#add({ word: { heard, arrival }, done }))
  }

  /** An event in its place among the messages. */
  readonly play = (planned: Planned): void => this.#add({ planned })

  /** The broker has no session any more: nothing will be redelivered from it, and words may have been missed. */
  forgetSession(heardUntil: number | undefined): void {
    this.#add({ begins: 'session', planned: { kind: 'missed', heardUntil } })
  }

  /** The next link of the session is another one: it must be on the disk before that is made. */
  nextLink(): void {
    this.#session.linkEnded()
    this.#add({ begins: 'link' })
  }

  /** A message that is not kept. */
  seen(heard: Heard): void {
    this.#session.seen(heard)
  }

  /** Time has passed: nothing is kept for that, so a disk that refuses is no hindrance. */
  pass(): void {
    this.#isPassDue = this.#disk.isWriting
    if (this.#isPassDue) return
    const outcome = playAll(this.#state, [() => ({ kind: 'time', now: this.#clock.now() })])
    this.#state = outcome.state
    this.#hooks?.played(outcome)
  }

  /** A fact that goes to the disk with the next entry, or when the house is quiet. */
  remember(name: string, value: string): void {
    this.#facts.remember(name, value)
  }

  /** Resolves when the fact is on the disk; while nothing can be kept, at once: then it follows as soon as it can. */
  keepFact(name: string, value: string): Promise<void> {
    this.#facts.remember(name, value)
    return this.#factsKept()
  }

  /** Resolves when the messages that were taken are on the disk; while nothing can be kept, at once. */
  drained(): Promise<void> {
    return this.waiting > 0 ? this.#factsKept() : Promise.resolve()
  }

  /** Keeps back what comes, unacknowledged, while the ledger is being counted again. */
  hold(): void {
    this.#paused = true
    this.#letFactsGo()
  }

  /** @param planned - comes before all that waited */
  release(planned: Planned): void {
    this.#paused = false
    this.#queue.unshift({ planned })
    void this.flush()
  }

  /** The house is quiet: a snapshot, and until when the link was live. Shows a disk that refuses before words come. */
  rest(): void {
    if (this.#isBusy || this.#queue.length > 0) return
    const snapshot = this.#store.tail > 0 || this.#disk.hasFailed
    try {
      const written = this.#disk.commit({ entries: [], kept: this.#state.ledger, snapshot, facts: this.#facts.quiet() })
      this.#facts.kept()
      this.#disk.whenWritten(written, () => this.#kept())
    } catch (error) {
      this.#disk.refused(error, this.#again)
    }
  }

  /** Commits all that waits, if the disk lets it. What comes later is not kept, and so not acknowledged. */
  async end(): Promise<void> {
    await this.#disk.last()
    while (this.#queue.length > 0 && !this.#isBusy) void this.flush()
    this.rest()
    this.#disk.stop()
    this.#ended = true
  }

  /**
   * Commits what waits, a transaction a turn: acknowledgements go out in between.
   * @returns resolves when what was committed is on the disk, or was refused
   */
  flush(): Promise<void> {
    if (this.#queue.length === 0 || this.#isBusy) return this.#disk.written
    const some = nextOf(this.#queue)
    const begins = some[0]?.begins
    let outcome: Outcome
    let written: Promise<void> | undefined
    try {
      if (begins === 'session') this.#session.forget()
      if (begins === 'link') this.#session.stageLink()
      const find = (id: string) => this.#store.find(id)
      outcome = playAll(this.#state, eventsOf(some, { now: this.#clock.now(), session: this.#session, find }))
      written = this.#commit(outcome, some)
    } catch (error) {
      this.#session.rollback()
      this.#disk.refused(error, this.#again)
      return this.#disk.written
    }
    this.#queue = this.#queue.slice(some.length)
    this.#session.commit()
    this.#inHand = some
    this.#disk.whenWritten(written, () => this.#kept(outcome))
    return this.#disk.written
  }

  /** What was committed is on the disk. */
  #kept(outcome?: Outcome): void {
    const items = this.#inHand
    this.#inHand = []
    if (outcome) this.#state = outcome.state
    if (this.#disk.hasFailed) this.#recovered()
    for (const item of items) item.done?.()
    if (outcome) this.#hooks?.played(outcome)
    if (this.#isPassDue) this.pass()
    if (this.#queue.length > 0) this.#soon()
  }

  readonly #again = (): void => (this.#queue.length > 0 ? void this.flush() : this.rest())

  get #isBusy(): boolean {
    return this.#disk.isBusy || this.#paused || this.#ended
  }

  #add(item: Item): void {
    this.#queue.push(item)
    this.#soon()
  }

  #soon(): void {
    if (this.#scheduled || this.#isBusy) return
    this.#scheduled = true
    inTurn(() => {
      this.#scheduled = false
      void this.flush()
    })
  }

  #commit({ state, entries, topics }: Outcome, items: readonly Item[]): Promise<void> | undefined {
    if (state.deaf !== this.#state.deaf) this.remember('deaf', JSON.stringify(state.deaf))
    const staged = this.#session.staged
    const mustKeep = items.some(({ begins, isFact }) => begins || isFact)
    const listened = topics && JSON.stringify(topics)
    const isListenedNew = listened !== undefined && listened !== this.#store.fact('topics')
    if (!mustKeep && !isListenedNew && entries.length === 0 && staged.taken.length === 0) return
    const facts = { ...this.#facts.now(), ...staged.facts, ...(isListenedNew ? { topics: listened } : {}) }
    const newSession = items[0]?.begins === 'session'
    const written = this.#disk.commit({ entries, kept: state.ledger, taken: staged, newSession, facts })
    this.#facts.kept()
    return written
  }

  #factsKept(): Promise<void> {
    if (this.#disk.isPausing || this.#paused || this.#ended) return Promise.resolve()
    return new Promise(done => this.#add({ isFact: true, done }))
  }

  #letFactsGo(): void {
    const facts = [...this.#inHand, ...this.#queue].filter(({ isFact }) => isFact)
    this.#queue = this.#queue.filter(({ isFact }) => !isFact)
    for (const { done } of facts) done?.()
  }

  #recovered(): void {
    this.#disk.worked()
    if (this.#dropped === 0) return
    const why = `${this.#dropped} words at QoS 0 were dropped while the disk refused`
    this.#dropped = 0
    this.#hooks?.played({ ...playAll(this.#state, []), refused: [why] })
  }
}
