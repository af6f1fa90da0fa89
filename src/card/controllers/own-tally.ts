import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { leftOf } from '../../house/forecast.ts'
import { earsOf, policyOf } from '../../house/policy.ts'
import { applyAll, CONTACT_WORDS, type Ledger, startLedger, withPolicy } from '../../ledger/apply.ts'
import { UNHEARD, willFloor } from '../../ledger/fold.ts'
import { type Ears, hear } from '../../ledger/hear.ts'
import { isNews } from '../../ledger/news.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Heard } from '../../protocol/feed.ts'
import type { HousePolicy } from '../../protocol/policy.ts'
import type { Reading } from '../../protocol/reading.ts'
import type { Register } from '../../register/types.ts'
import { own } from '../../text/own.ts'
import { Commits } from '../effects/commits.ts'
import { freshId } from '../effects/frame.ts'
import { Beside, newTo, takeLate } from '../effects/late.ts'
import { Shelf } from '../effects/tab-store.ts'
import type { CardWorld } from '../world.ts'
import { Awaited } from './awaited.ts'
import { Forecasts } from './forecasts.ts'
import type { Gap } from './gaps.ts'
import { Reader } from './reader.ts'

const NOTHING: ReadonlyMap<string, Reading> = new Map()

interface On {
  counted(entry: Entry): void
  /** This page keeps the tally from now on. */
  tookOver(): void
}

/** What this tablet itself has heard: a ledger, kept in the browser's store. */
export class OwnTally implements ReactiveController {
  /** How each contact's words are counted. */
  policy: HousePolicy = {}
  readonly #host: ReactiveControllerHost
  readonly #world: () => CardWorld
  readonly #on: On
  #register: Register | undefined
  #ears: Ears = new Map()
  #ledger: Ledger | undefined
  readonly #shelf: Shelf
  readonly #beside = new Beside()
  /** Heard, and not yet in the ledger. */
  #gathered: Entry[] = []
  readonly #commits: Commits
  #early: { message: Heard; at: number; live: number | undefined }[] = []
  #gap: Gap | undefined
  readonly #awaited: Awaited
  /** When each contact was last heard on this page, kept words too, milliseconds. */
  readonly #heardAt = new Map<string, number>()
  readonly #reader = new Reader()
  readonly #forecasts: Forecasts

  constructor(host: ReactiveControllerHost, world: () => CardWorld, on: On) {
    this.#on = on
    this.#host = host
    this.#world = world
    this.#forecasts = new Forecasts(
      () => this.#register && this.ledger && leftOf(this.#register, this.ledger, world().now()),
      () => host.requestUpdate(),
    )
    // What was gathered is counted first: a ledger is kept together with its entries.
    this.#commits = new Commits(
      () => ({ name: this.#shelf.name, store: this.#shelf.store, ledger: this.ledger }),
      () => world().elapsed(),
      () => host.requestUpdate(),
    )
    this.#awaited = new Awaited((mark, until) => this.#note(mark, until))
    this.#shelf = new Shelf(world, {
      givenAway: () => this.#commits.forget(),
      opened: (ledger, isKept) => this.#opened(ledger, isKept),
      said: entry => this.add(entry),
    })
    host.addController(this)
  }

  hostConnected(): void {
    addEventListener('pagehide', this.#leave)
    document.addEventListener('visibilitychange', this.#leave)
    if (this.#register) this.#open(this.#register.tally)
  }

  hostDisconnected(): void {
    removeEventListener('pagehide', this.#leave)
    document.removeEventListener('visibilitychange', this.#leave)
    this.#forecasts.stop()
    this.#shut()
  }

  /** False while another page on this tablet keeps the tally: this one then shows it and keeps nothing. */
  get writes(): boolean {
    return this.#shelf.writes
  }

  /** True once it is clear that this page keeps the tally. */
  get keeps(): boolean {
    return this.writes && this.#shelf.isDecided
  }

  get kept(): boolean {
    return this.#commits.kept
  }

  get register(): Register | undefined {
    return this.#register
  }

  get ledger(): Ledger | undefined {
    this.#count()
    return this.#ledger
  }

  /** ISO time since when this tablet counts. */
  get since(): string | undefined {
    return this.#ledger?.since
  }

  /** True when anything was ever heard or said here. */
  get hasHeard(): boolean {
    return (this.ledger?.count ?? 0) > 0
  }

  /** A word of a contact was heard on this page: the account may listen to them. */
  hears = false

  /** What was seen shut is not certain after a time in which nobody listened: shorter than a will takes hides nothing. */
  missed(gap: Gap): void {
    if (!this.#ledger || this.#shelf.isReading) {
      this.#gap = this.#gap ? { ...this.#gap, to: gap.to } : gap
      return
    }
    // A clock that was set back meanwhile leaves its length unknown.
    const from = gap.from === undefined || gap.from > gap.to ? Number.NEGATIVE_INFINITY : gap.from
    const { to } = gap
    const now = this.#world().now()
    for (const [mark, policy] of Object.entries(this.policy)) {
      const fold = own(this.ledger?.marks ?? {}, mark)?.fold
      // A kept word that says what it said before somebody looked tells of no time at all.
      const isAgainst = policy.reports === 'both' && fold?.edge !== 'closed'
      if (fold?.state !== 'closed' || fold.unheardAt !== undefined) continue
      if (to - from < willFloor(policy) && !isAgainst) continue
      // It has told how it stands since then.
      if (!isAgainst && policy.reports === 'both' && to < now && (this.#heardAt.get(mark) ?? 0) >= to) continue
      if (policy.reports === 'both' && !isAgainst) this.#awaited.wait(mark, to)
      else this.#note(mark, to)
    }
    this.#host.requestUpdate()
  }

  /** In its own place among what was said since; of a time that ended just now that is the last one, whatever the clock. */
  #note(mark: string, until: number): void {
    const how = until < this.#world().now() ? 'said' : 'live'
    const at = new Date(until).toISOString()
    this.add({ id: freshId(), at, mark, what: 'note', how, by: 'sashtally', text: UNHEARD })
  }

  /** Topics of the contacts themselves. */
  get filters(): readonly string[] {
    return [...this.#ears.keys()]
  }

  /** Cells that came out, of all openings: how many sends each gave. */
  get pastCells(): readonly { readonly sends: number; readonly died: boolean }[] {
    return Object.values(this.ledger?.marks ?? {}).flatMap(({ fold }) =>
      fold.past.filter(cell => cell.counted).map(({ sends, ended }) => ({ sends, died: ended === 'failed' })),
    )
  }

  readings(now: number): ReadonlyMap<string, Reading> {
    const { ledger } = this
    if (!ledger) return NOTHING
    return this.#awaited.cover(this.#reader.read(ledger, this.policy, this.#forecasts.left, now))
  }

  use(register: Register): void {
    this.#count()
    this.#register = register
    this.policy = policyOf(register)
    this.#ears = earsOf(register)
    if (this.#ledger) this.#ledger = withPolicy(this.#ledger, this.policy)
    this.#open(register.tally)
    this.#forecasts.soon()
  }

  /** @param liveSince - when the link came up without a gap since, milliseconds */
  hear(message: Heard, liveSince: number | undefined, at = this.#world().now()): void {
    if (this.#ears.has(message.topic)) this.hears = true
    if (!this.#ledger || this.#shelf.isReading) {
      if (this.#early.length < 10_000) this.#early.push({ message, at, live: liveSince })
      return
    }
    const entry = hear(this.#ears, message, {
      id: freshId(),
      at: new Date(at).toISOString(),
      ...(liveSince === undefined ? {} : { linkLiveSeconds: Math.max(0, (at - liveSince) / 1000) }),
    })
    if (!entry) return
    if (entry.what !== 'odd') {
      this.#heardAt.set(entry.mark, at)
      if (this.#awaited.heard(entry.mark)) this.#host.requestUpdate()
    }
    if (entry.how === 'retained' && this.#repeats(entry)) return
    this.add(entry)
  }

  add(entry: Entry): void {
    if (!this.#ledger) return
    this.#gathered.push(entry)
    // What this page has not heard the one that keeps the tally may have.
    if (!this.writes && entry.what !== 'note') this.#beside.add(entry)
    if (CONTACT_WORDS.has(entry.what) || entry.what === 'odd') this.#commits.soon()
    else {
      if (entry.what !== 'note') this.#shelf.tell(entry)
      void this.#commits.now()
    }
    this.#forecasts.soon()
    this.#on.counted(entry)
    this.#host.requestUpdate()
  }

  /** A kept copy that repeats what was last heard adds nothing. */
  #repeats(entry: Entry): boolean {
    if (this.#gathered.some(({ mark }) => mark === entry.mark)) this.#count()
    return this.#ledger !== undefined && !isNews(this.#ledger, entry)
  }

  /** The words of a frame go into the ledger together: a house of 500 is copied once for all of them. */
  #count(): void {
    if (!this.#ledger || this.#gathered.length === 0) return
    const gathered = this.#gathered.splice(0)
    this.#ledger = applyAll(this.#ledger, gathered)
    if (this.writes) this.#commits.wait(gathered)
  }

  async story(mark: string, limit: number): Promise<readonly Entry[]> {
    await this.#commits.now()
    return (await this.#shelf.store?.story(mark, limit).catch(() => [])) ?? []
  }

  #open(name: string): void {
    if (this.#shelf.name === name) return
    this.#shut()
    this.#shelf.open(name)
  }

  /** Keeps what waits, then lets another page keep the tally. */
  #shut(): void {
    this.#awaited.end()
    this.#shelf.shut(this.#commits.now())
    this.#ledger = undefined
    this.#commits.forget()
    this.#early = []
    this.#beside.take(0)
    this.#heardAt.clear()
  }

  /** What comes while the shelf is read counts after what was kept. */
  #opened(ledger: Ledger | undefined, isKept: boolean): void {
    this.#commits.kept = isKept
    // A tally that is kept nowhere has only what this page has heard.
    if (isKept || !this.#ledger) this.#begin(ledger)
    const gap = this.#gap
    this.#gap = undefined
    if (gap) this.missed(gap)
    if (this.writes) this.#on.tookOver()
    for (const { message, at, live } of this.#early.splice(0)) this.hear(message, live, at)
    this.#forecasts.soon()
    this.#host.requestUpdate()
  }

  #begin(ledger: Ledger | undefined): void {
    this.#gathered = []
    this.#ledger = ledger?.v === 1 ? withPolicy(ledger, this.policy) : startLedger(this.policy, this.#iso())
    if (!ledger && this.writes) this.#commits.keepEmpty()
    const { name, store } = this.#shelf
    if (name !== undefined && store && this.writes) {
      const { marks } = this.#ledger
      const late = [...takeLate(name), ...this.#beside.take(this.#world().now())]
      this.#gathered = [...newTo(mark => own(marks, mark)?.window ?? [], late)]
      void this.#commits.now()
    }
  }

  #iso(): string {
    return new Date(this.#world().now()).toISOString()
  }

  readonly #leave = ({ type }: Event) => {
    if (type === 'pagehide' || document.hidden) {
      this.#awaited.end()
      this.#count()
      this.#commits.leave()
    }
    void this.#commits.now()
  }
}
