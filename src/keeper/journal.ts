import { earsOf, factsOf } from '../house/policy.ts'
import type { Ledger } from '../ledger/apply.ts'
import { type Ears, type Hearing, hear } from '../ledger/hear.ts'
import { judgeSay, type SayContext } from '../ledger/judge-say.ts'
import { isNews } from '../ledger/news.ts'
import type { Entry } from '../protocol/entry.ts'
import type { Heard } from '../protocol/feed.ts'
import type { HeardNote } from '../protocol/heard-note.ts'
import type { HousePolicy } from '../protocol/policy.ts'
import { tallyPlace } from '../protocol/topics.ts'
import type { Register } from '../register/types.ts'
import { iso } from '../text/time.ts'
import { utf8Text } from '../text/utf8.ts'
import type { Clock } from './clock.ts'
import { Draft } from './draft.ts'
import { newId } from './id.ts'
import { Redelivery } from './redelivery.ts'
import { StoreProblem } from './sqlite.ts'
import type { TallyStore } from './store.ts'
import { type Missed, unheardNotes } from './unheard.ts'

/** When a message came, and whether it had waited at the broker. */
export type Arrival = Omit<Hearing, 'id'>

/** What a commit changed, told once it is on the disk. */
export interface Committed {
  readonly entries: readonly Entry[]
  readonly answers: readonly { readonly id: string; readonly note: HeardNote }[]
  /** Says that could not be answered, and why. */
  readonly refused: readonly string[]
}

export interface JournalHooks {
  committed(what: Committed): void
  /** The store refuses, or (undefined) takes entries again. */
  trouble(problem: string | undefined): void
}

interface Item {
  readonly arrival: Arrival
  readonly heard?: Heard
  readonly entry?: Entry
  /** What may have been missed before it. */
  readonly missed?: Missed
  /** The broker has no session any more: it begins a transaction, which empties the list of the last one. */
  readonly newSession?: boolean
  done(): void
}

/** Messages in one transaction at most: acknowledgements go out in between. */
const MOST_IN_ONE = 100
/** Messages at QoS 0 kept in memory while the disk refuses; more are dropped, and said. */
const MOST_WAITING = 20_000

/**
 * Turns messages into committed entries. Those that come while a transaction is under way share the next one; a
 * message is done, and may be acknowledged, only when its transaction is on the disk.
 */
export class Journal {
  readonly #store: TallyStore<Ledger>
  readonly #clock: Clock
  readonly #hooks: JournalHooks
  #queue: Item[] = []
  readonly #session: Redelivery
  #lastLive: number | undefined
  #scheduled = false
  /** The disk refuses: tried again after a while. */
  #held = false
  #cancelRetry = (): void => {}
  #ended = false
  /** The ledger is being counted again. */
  #paused = false
  #failures = 0
  #dropped = 0
  ledger: Ledger
  ears: Ears = new Map()
  policy: HousePolicy = {}
  #factsOf: NonNullable<SayContext['factsOf']> = () => undefined
  tally = ''

  constructor(store: TallyStore<Ledger>, ledger: Ledger, clock: Clock, hooks: JournalHooks) {
    this.#store = store
    this.#clock = clock
    this.#hooks = hooks
    this.ledger = ledger
    this.#session = new Redelivery(() => store.taken(), Number(store.fact('reusedIn') || Number.NaN))
  }

  /** Resolves when what the message says is on the disk. */
  take(heard: Heard, arrival: Arrival): Promise<void> {
    if (this.#queue.length >= MOST_WAITING && heard.qos === 0) {
      this.#dropped++
      return Promise.resolve()
    }
    return new Promise(done => this.#add({ heard, arrival, done }))
  }

  /** Adds an entry of the keeper's own. */
  add(entry: Entry): void {
    this.#add({ entry, arrival: { at: entry.at }, done: () => {} })
  }

  /** The broker has no session any more: nothing will be redelivered from it, and words may have been missed. */
  forgetSession(): void {
    this.#add({ newSession: true, missed: { marks: Object.keys(this.policy) }, arrival: this.#here(), done: () => {} })
  }

  /** Words may have been missed until now. */
  missed(missed: Missed): void {
    if (missed.marks.length > 0) this.#add({ missed, arrival: this.#here(), done: () => {} })
  }

  #here = (): Arrival => ({ at: iso(this.#clock.now()) })

  /** Until when the link is known to have been live; goes to the disk with the next entry. */
  set lastLive(milliseconds: number) {
    this.#lastLive = milliseconds
  }

  /** Number of messages that are not on the disk yet. */
  get waiting(): number {
    return this.#queue.length
  }

  /** Keeps back what comes, unacknowledged, while the ledger is being counted again. */
  hold(): void {
    this.#paused = true
  }

  release(ledger: Ledger): void {
    this.ledger = ledger
    this.#paused = false
    this.flush()
  }

  /** The house is quiet: a snapshot, and until when the link was live. Shows a disk that refuses before words come. */
  rest(): void {
    if (this.#held || this.#paused || this.#ended || this.#queue.length > 0) return
    try {
      if (this.#store.tail > 0 || this.#failures > 0) this.#store.checkpoint(this.ledger)
      if (this.#lastLive !== undefined)
        this.#store.commitBatch({ entries: [], kept: this.ledger, facts: this.#liveFact() })
      if (this.#failures > 0) this.#recovered()
    } catch (error) {
      this.#refused(error)
    }
  }

  /** Commits all that waits, if the disk lets it. What comes later is not kept, and so not acknowledged. */
  end(): void {
    while (this.#queue.length > 0 && !this.#held && !this.#paused) this.flush()
    this.rest()
    this.#cancelRetry()
    this.#ended = true
  }

  #liveFact(): Record<string, string> {
    return this.#lastLive === undefined ? {} : { lastLive: iso(this.#lastLive) }
  }

  #add(item: Item): void {
    this.#queue.push(item)
    this.#soon()
  }

  #soon(): void {
    if (this.#scheduled || this.#held || this.#paused || this.#ended) return
    this.#scheduled = true
    setImmediate(() => {
      this.#scheduled = false
      this.flush()
    })
  }

  /** Commits what waits, a transaction a turn: acknowledgements go out in between. */
  flush(): void {
    if (this.#queue.length === 0 || this.#held || this.#paused || this.#ended) return
    const some = this.#next()
    const newSession = some[0]?.newSession === true
    if (newSession) this.#session.forget()
    let draft: Draft
    try {
      draft = this.#draft(some)
      this.#commit(draft, newSession)
    } catch (error) {
      this.#refused(error)
      return
    }
    this.#queue = this.#queue.slice(some.length)
    this.ledger = draft.ledger
    this.#session.commit()
    if (this.#failures > 0) this.#recovered()
    for (const item of some) item.done()
    this.#hooks.committed(draft)
    if (this.#queue.length > 0) this.#soon()
  }

  /** What goes into the next transaction: nothing of a session stands in one with what came before it. */
  #next(): Item[] {
    const some = this.#queue.slice(0, MOST_IN_ONE)
    const end = some.findIndex(({ newSession }, index) => index > 0 && newSession)
    return end < 0 ? some : some.slice(0, end)
  }

  #commit({ entries, ledger }: Draft, newSession: boolean): void {
    const staged = this.#session.staged
    if (!newSession && entries.length === 0 && staged.taken.length === 0) return
    const facts = this.#liveFact()
    if (newSession) facts.reusedIn = ''
    if (staged.reused) facts.reusedIn = String(this.#session.batch)
    this.#store.commitBatch({ entries, kept: ledger, taken: staged, newSession, facts })
  }

  #refused(error: unknown): void {
    this.#session.rollback()
    if (!(error instanceof StoreProblem)) throw error
    this.#held = true
    const wait = Math.min(30_000, 1_000 * 2 ** this.#failures++)
    this.#hooks.trouble(error.message)
    this.#cancelRetry = this.#clock.after(wait, () => {
      this.#held = false
      if (this.#queue.length > 0) this.flush()
      else this.rest()
    })
  }

  #recovered(): void {
    this.#failures = 0
    this.#hooks.trouble(undefined)
    if (this.#dropped > 0) {
      const text = `${this.#dropped} words at QoS 0 were dropped while the disk refused`
      this.#dropped = 0
      this.#hooks.committed({ entries: [], answers: [], refused: [text] })
    }
  }

  #draft(items: readonly Item[]): Draft {
    const draft = new Draft(this.ledger)
    for (const item of items) {
      const back = draft.back()
      const staged = this.#session.staged.taken.length
      try {
        this.#note(item, draft)
      } catch (error) {
        if (error instanceof StoreProblem) throw error
        // One message must not stop all others: it is left out, and said.
        back()
        this.#session.unstage(staged)
        draft.refused.push(`a message could not be counted: ${error instanceof Error ? error.message : error}`)
      }
    }
    return draft
  }

  #note({ heard, entry, missed, arrival }: Item, draft: Draft): void {
    if (entry) draft.entries.push(entry)
    if (missed) draft.entries.push(...unheardNotes(draft.ledger, this.policy, arrival.at, missed))
    if (!heard) return
    const again = this.#session.isRedelivery(heard)
    const place = tallyPlace(this.tally, heard.topic)
    if (place?.kind === 'say') this.#say(heard, place.mark, arrival, draft)
    else if (!again) {
      const word = hear(this.ears, heard, { ...arrival, id: newId(this.#clock.now()) })
      if (word && (word.how !== 'retained' || isNews(draft.ledger, word))) draft.entries.push(word)
    }
    if (!again) this.#session.stage(heard)
  }

  /** Listens and counts by this register from now on. */
  use(register: Register, policy: HousePolicy): void {
    this.ears = earsOf(register)
    this.policy = policy
    this.#factsOf = factsOf(register)
  }

  /** A say that comes again is answered again: its first answer may have been lost. */
  #say(heard: Heard, mark: string, arrival: Arrival, draft: Draft): void {
    const judged = judgeSay(
      utf8Text(heard.payload, 70_000),
      mark,
      { ...arrival, retain: heard.retain },
      {
        ledger: draft.ledger,
        policy: this.policy,
        factsOf: this.#factsOf,
        now: this.#clock.now(),
        find: id => draft.entries.find(each => each.id === id) ?? this.#store.find(id),
      },
    )
    if ('entry' in judged) draft.entries.push(judged.entry)
    if ('problem' in judged) {
      if (judged.id === undefined) draft.refused.push(`a say of ${mark} could not be answered: ${judged.problem}`)
      else draft.answers.push({ id: judged.id, note: { v: 1, ok: false, problem: judged.problem } })
    } else draft.answers.push({ id: judged.id, note: { v: 1, ok: true } })
  }
}
