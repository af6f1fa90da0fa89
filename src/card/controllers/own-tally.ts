import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { earsOf, leftOf, policyOf } from '../../house.ts'
import { applyAll, type Ledger, type MarkState, own, startLedger, withPolicy } from '../../ledger/apply.ts'
import { type Ears, hear } from '../../ledger/hear.ts'
import { nextChange, read } from '../../ledger/read.ts'
import type { Entry, Heard, HousePolicy, Left, Reading, Store, What } from '../../ledger/types.ts'
import type { Register } from '../../register/types.ts'
import { freshId } from '../frame.ts'
import type { CardWorld } from '../world.ts'

const CONTACT_WORDS: readonly What[] = ['opened', 'rest', 'closed', 'gone', 'odd']
/** Contacts' words are kept together this often, a person's at once; what came in the last moment before a power cut is lost. */
const COMMIT_MILLISECONDS = 400
/** In a storm keeping takes at most this share of the time, and waits at most this long. */
const COMMIT_SHARE = 0.1
const COMMIT_LONGEST = 5_000
/** A forecast follows the last entry after this, and is not made more often than that, milliseconds. */
const FORECAST_AFTER = 600
const FORECAST_EVERY = 5_000

/** A store that does not open by then is gone without. */
const LOAD_MILLISECONDS = 4_000

const inTime = <T>(job: Promise<T>): Promise<T> =>
  new Promise((done, failed) => {
    const timer = setTimeout(() => failed(new Error('the store did not open in time')), LOAD_MILLISECONDS)
    job.then(done, failed).finally(() => clearTimeout(timer))
  })

/** Readings as they were last made, and when they change by themselves. */
interface Read {
  readonly policy: HousePolicy
  readonly left: Readonly<Record<string, Left>>
  readonly marks: Readonly<Record<string, MarkState>>
  readonly readings: ReadonlyMap<string, Reading>
  readonly at: number
  readonly until: number
}
const NOTHING: ReadonlyMap<string, Reading> = new Map()

/** What this tablet itself has heard: a ledger, kept in the browser's store. */
export class OwnTally implements ReactiveController {
  /** False when the browser keeps nothing: the tally then lasts until the next reload. */
  kept = true
  readonly #host: ReactiveControllerHost
  readonly #world: () => CardWorld
  readonly #counted: (entry: Entry) => void
  #register: Register | undefined
  #policy: HousePolicy = {}
  #ears: Ears = new Map()
  #ledger: Ledger | undefined
  #left: Readonly<Record<string, Left>> = {}
  #store: Store<Ledger> | undefined
  #storeName: string | undefined
  /** Heard, and not yet in the ledger. */
  #gathered: Entry[] = []
  /** In the ledger, and not yet kept. */
  #waiting: Entry[] = []
  #early: { message: Heard; at: number; live: number | undefined }[] = []
  #last: Read | undefined
  #commitAfter = COMMIT_MILLISECONDS
  #commitTimer: ReturnType<typeof setTimeout> | undefined
  #forecastTimer: ReturnType<typeof setTimeout> | undefined
  #forecastAt = Number.NEGATIVE_INFINITY

  constructor(host: ReactiveControllerHost, world: () => CardWorld, counted: (entry: Entry) => void) {
    this.#host = host
    this.#world = world
    this.#counted = counted
    host.addController(this)
  }

  hostConnected(): void {
    addEventListener('pagehide', this.#flush)
    document.addEventListener('visibilitychange', this.#flush)
    if (this.#register) void this.#load(this.#register)
  }

  hostDisconnected(): void {
    removeEventListener('pagehide', this.#flush)
    document.removeEventListener('visibilitychange', this.#flush)
    clearTimeout(this.#forecastTimer)
    this.#forecastTimer = undefined
    const closing = this.#store
    void this.#commit().finally(() => closing?.close().catch(() => {}))
    this.#store = undefined
    this.#storeName = undefined
    this.#ledger = undefined
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

  /** Reads again only what changed since the last time, by a word, a forecast or the passing of time. */
  readings(now: number): ReadonlyMap<string, Reading> {
    const { ledger } = this
    if (!ledger) return NOTHING
    const last = this.#last
    const isStale =
      !last || last.policy !== this.#policy || last.left !== this.#left || now < last.at || now >= last.until
    if (!isStale && last.marks === ledger.marks) return last.readings
    const changed = isStale
      ? this.#policy
      : Object.fromEntries(Object.entries(this.#policy).filter(([mark]) => last.marks[mark] !== ledger.marks[mark]))
    const fresh = read(ledger, now, changed, this.#left).map(reading => [reading.mark, reading] as const)
    const readings = isStale ? new Map(fresh) : new Map([...last.readings, ...fresh])
    const soon = nextChange(ledger, now, changed) ?? Number.POSITIVE_INFINITY
    const until = isStale ? soon : Math.min(soon, last.until)
    this.#last = { policy: this.#policy, left: this.#left, marks: ledger.marks, readings, at: now, until }
    return readings
  }

  use(register: Register): void {
    this.#count()
    this.#register = register
    this.#policy = policyOf(register)
    this.#ears = earsOf(register)
    if (this.#ledger) this.#ledger = withPolicy(this.#ledger, this.#policy)
    void this.#load(register)
    this.#forecastSoon()
  }

  /** @param liveSince - when the link came up without a gap since, milliseconds */
  hear(message: Heard, liveSince: number | undefined): void {
    const at = this.#world().now()
    if (!this.#ledger) {
      if (this.#early.length < 10_000) this.#early.push({ message, at, live: liveSince })
      return
    }
    const entry = hear(this.#ears, message, {
      id: freshId(),
      at: new Date(at).toISOString(),
      ...(liveSince === undefined ? {} : { linkLiveSeconds: Math.max(0, (at - liveSince) / 1000) }),
    })
    if (!entry || (entry.how === 'retained' && this.#repeats(entry))) return
    this.add(entry)
  }

  add(entry: Entry): void {
    if (!this.#ledger) return
    this.#gathered.push(entry)
    if (CONTACT_WORDS.includes(entry.what)) this.#commitTimer ??= setTimeout(this.#flush, this.#commitAfter)
    else this.#flush()
    this.#forecastSoon()
    this.#counted(entry)
    this.#host.requestUpdate()
  }

  /** A kept copy that repeats what was last heard adds nothing. */
  #repeats({ mark, what }: Entry): boolean {
    if (this.#gathered.some(entry => entry.mark === mark)) this.#count()
    return own(this.#ledger?.marks ?? {}, mark)?.fold.last?.word === what
  }

  /** The words of a frame go into the ledger together: a house of 500 is copied once for all of them. */
  #count(): void {
    if (!this.#ledger || this.#gathered.length === 0) return
    const gathered = this.#gathered.splice(0)
    this.#ledger = applyAll(this.#ledger, gathered)
    this.#waiting.push(...gathered)
  }

  async story(mark: string, limit: number): Promise<readonly Entry[]> {
    await this.#commit()
    return (await this.#store?.story(mark, limit).catch(() => [])) ?? []
  }

  async #load(register: Register): Promise<void> {
    if (this.#storeName === register.tally) return
    this.#storeName = register.tally
    const store = this.#world().store?.(register.tally)
    let ledger: Ledger | undefined
    try {
      ledger = await (store && inTime(store.load()))
      this.kept = store !== undefined
    } catch {
      this.kept = false
    }
    if (this.#storeName !== register.tally) {
      void store?.close().catch(() => {})
      return
    }
    this.#store = this.kept ? store : undefined
    this.#ledger = ledger?.v === 1 ? withPolicy(ledger, this.#policy) : startLedger(this.#policy, this.#iso())
    if (!ledger) await this.#keepEmpty()
    const early = this.#early.splice(0)
    for (const { message, live } of early) this.hear(message, live)
    this.#forecastSoon()
    this.#host.requestUpdate()
  }

  /** Since when this tablet counts must survive a reload before the first word. */
  async #keepEmpty(): Promise<void> {
    if (this.#ledger) await this.#store?.commit([], this.#ledger).catch(() => {})
  }

  #iso(): string {
    return new Date(this.#world().now()).toISOString()
  }

  readonly #flush = () => {
    void this.#commit()
  }

  async #commit(): Promise<void> {
    clearTimeout(this.#commitTimer)
    this.#commitTimer = undefined
    this.#count()
    const entries = this.#waiting.splice(0)
    if (entries.length === 0 || !this.#ledger) return
    const started = this.#world().elapsed()
    try {
      await this.#store?.commit(entries, this.#ledger)
      const took = this.#world().elapsed() - started
      this.#commitAfter = Math.min(COMMIT_LONGEST, Math.max(COMMIT_MILLISECONDS, took / COMMIT_SHARE))
    } catch {
      this.kept = false
      this.#host.requestUpdate()
    }
  }

  #forecastSoon(): void {
    if (this.#forecastTimer !== undefined) return
    const rest = FORECAST_EVERY - Math.abs(performance.now() - this.#forecastAt)
    this.#forecastTimer = setTimeout(this.#forecast, Math.max(FORECAST_AFTER, rest))
  }

  readonly #forecast = () => {
    this.#forecastTimer = undefined
    this.#forecastAt = performance.now()
    const { ledger } = this
    if (!this.#register || !ledger) return
    const left = leftOf(this.#register, ledger, this.#world().now())
    if (JSON.stringify(left) === JSON.stringify(this.#left)) return
    this.#left = left
    this.#host.requestUpdate()
  }
}
