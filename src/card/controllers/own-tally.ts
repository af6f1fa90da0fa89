import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { earsOf, leftOf, policyOf } from '../../house.ts'
import { applyAll, type Ledger, type MarkState, own, startLedger, withPolicy } from '../../ledger/apply.ts'
import { type Ears, hear } from '../../ledger/hear.ts'
import { nextChange, read } from '../../ledger/read.ts'
import type { Entry, Heard, HousePolicy, Left, Reading, Store, What } from '../../ledger/types.ts'
import type { Register } from '../../register/types.ts'
import { freshId } from '../frame.ts'
import type { CardWorld } from '../world.ts'
import { saveLate, takeLate } from './late.ts'
import { type Pen, takePen } from './pen.ts'

const CONTACT_WORDS: readonly What[] = ['opened', 'rest', 'closed', 'gone', 'odd']
/** Contacts' words are kept together this often, a person's at once; what came in the last moment before a power cut is lost. */
const COMMIT_MILLISECONDS = 400
/** In a storm keeping takes at most this share of the time, and waits at most this long. */
const COMMIT_SHARE = 0.1
const COMMIT_LONGEST = 5_000
/** A forecast follows the last entry after this, and is not made more often than that, milliseconds. */
const FORECAST_AFTER = 600
const FORECAST_EVERY = 5_000

/** Words that wait for a store that fails; beyond this the oldest are dropped. */
const MOST_WAITING = 10_000

/** How far back another page may have kept nothing before it went, and how many words that are at most. */
const BESIDE_MILLISECONDS = 15_000
const MOST_BESIDE = 1_000
/** The same word comes to two pages within this. */
const SAME_MILLISECONDS = 2_000

const isSame = (a: Entry, b: Entry): boolean =>
  a.id === b.id || (a.what === b.what && Math.abs(Date.parse(a.at) - Date.parse(b.at)) < SAME_MILLISECONDS)

/** A store that does not answer by then is gone without. */
const STORE_MILLISECONDS = 4_000

const inTime = <T>(job: Promise<T>): Promise<T> =>
  new Promise((done, failed) => {
    const timer = setTimeout(() => failed(new Error('the store did not answer in time')), STORE_MILLISECONDS)
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
  /** False while another page on this tablet keeps the tally: this one then shows it and keeps nothing. */
  writes = true
  readonly #host: ReactiveControllerHost
  readonly #world: () => CardWorld
  readonly #counted: (entry: Entry) => void
  #register: Register | undefined
  #policy: HousePolicy = {}
  #ears: Ears = new Map()
  #ledger: Ledger | undefined
  #left: Readonly<Record<string, Left>> = {}
  #opened: Store<Ledger> | undefined
  /** The same, once it has been read. */
  #store: Store<Ledger> | undefined
  #storeName: string | undefined
  #pen: Pen | undefined
  /** Which loading this is: a later one goes before. */
  #loading = 0
  #isLoading = false
  #committing: Promise<void> = Promise.resolve()
  #closing: Promise<void> = Promise.resolve()
  /** Heard lately while another page kept the tally: what that one may not have kept before it went. */
  #beside: Entry[] = []
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
    addEventListener('pagehide', this.#leave)
    document.addEventListener('visibilitychange', this.#leave)
    if (this.#register) this.#open(this.#register.tally)
  }

  hostDisconnected(): void {
    removeEventListener('pagehide', this.#leave)
    document.removeEventListener('visibilitychange', this.#leave)
    clearTimeout(this.#forecastTimer)
    this.#forecastTimer = undefined
    this.#shut()
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
    this.#open(register.tally)
    this.#forecastSoon()
  }

  /** @param liveSince - when the link came up without a gap since, milliseconds */
  hear(message: Heard, liveSince: number | undefined, at = this.#world().now()): void {
    if (!this.#ledger || this.#isLoading) {
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
    if (!this.writes) this.#remember(entry)
    if (CONTACT_WORDS.includes(entry.what)) this.#commitTimer ??= setTimeout(this.#flush, this.#commitAfter)
    else {
      if (this.writes) this.#pen?.tell(entry)
      this.#flush()
    }
    this.#forecastSoon()
    this.#counted(entry)
    this.#host.requestUpdate()
  }

  #remember(entry: Entry): void {
    const from = this.#world().now() - BESIDE_MILLISECONDS
    this.#beside = [...this.#beside.filter(({ at }) => Date.parse(at) > from), entry].slice(-MOST_BESIDE)
  }

  /** A kept copy that repeats what was last heard adds nothing. */
  #repeats({ mark, what, text }: Entry): boolean {
    if (this.#gathered.some(entry => entry.mark === mark)) this.#count()
    const fold = own(this.#ledger?.marks ?? {}, mark)?.fold
    return what === 'odd' ? fold?.odd?.text === text : fold?.last?.word === what
  }

  /** The words of a frame go into the ledger together: a house of 500 is copied once for all of them. */
  #count(): void {
    if (!this.#ledger || this.#gathered.length === 0) return
    const gathered = this.#gathered.splice(0)
    this.#ledger = applyAll(this.#ledger, gathered)
    if (this.writes) this.#waiting.push(...gathered)
  }

  async story(mark: string, limit: number): Promise<readonly Entry[]> {
    await this.#commit()
    return (await this.#store?.story(mark, limit).catch(() => [])) ?? []
  }

  #open(name: string): void {
    if (this.#storeName === name) return
    this.#shut()
    this.#storeName = name
    const store = this.#world().store?.(name)
    this.#opened = store
    void this.#closing.then(() => {
      if (this.#storeName !== name || this.#pen) return
      this.#pen = takePen(name, {
        turn: writes => void this.#load(name, store, writes),
        said: entry => {
          if (!this.writes) this.add(entry)
        },
      })
    })
  }

  /** Keeps what waits, then lets another page keep the tally. */
  #shut(): void {
    const [store, pen] = [this.#opened, this.#pen]
    const letGo = () => {
      pen?.drop()
      store?.close().catch(() => {})
    }
    this.#closing = inTime(this.#commit()).then(letGo, letGo)
    this.#loading++
    this.#opened = undefined
    this.#store = undefined
    this.#storeName = undefined
    this.#pen = undefined
    this.#ledger = undefined
    this.#waiting = []
    this.#early = []
    this.#beside = []
  }

  /** Anew whenever it is another page's turn: what that page kept is read, and what comes meanwhile counts after it. */
  async #load(name: string, store: Store<Ledger> | undefined, writes: boolean): Promise<void> {
    const loading = ++this.#loading
    this.#isLoading = true
    if (!writes) {
      this.writes = false
      this.#waiting = []
    }
    let ledger: Ledger | undefined
    let kept = store !== undefined
    try {
      ledger = await (store && inTime(store.load()))
    } catch {
      kept = false
    }
    if (loading !== this.#loading) return
    this.#isLoading = false
    this.kept = kept
    this.writes = writes || !kept
    this.#store = kept ? store : undefined
    // A tally that is kept nowhere has only what this page has heard.
    if (kept || !this.#ledger) this.#begin(name, ledger)
    for (const { message, at, live } of this.#early.splice(0)) this.hear(message, live, at)
    this.#forecastSoon()
    this.#host.requestUpdate()
  }

  #begin(name: string, ledger: Ledger | undefined): void {
    this.#gathered = []
    this.#ledger = ledger?.v === 1 ? withPolicy(ledger, this.#policy) : startLedger(this.#policy, this.#iso())
    if (!ledger && this.writes) this.#committing = this.#committing.then(() => this.#keepEmpty())
    if (this.#store && this.writes) {
      const { marks } = this.#ledger
      const isNew = (late: Entry) => !own(marks, late.mark)?.window.some(({ entry }) => isSame(entry, late))
      this.#gathered = [...takeLate(name), ...this.#beside.splice(0)].filter(isNew)
      this.#flush()
    }
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

  /** The page may end before the store has answered. */
  readonly #leave = ({ type }: Event) => {
    if (type === 'pagehide' || document.hidden) {
      this.#count()
      if (this.#storeName !== undefined && this.#store) saveLate(this.#storeName, this.#waiting)
    }
    this.#flush()
  }

  /** One after the other: the entries of each opening are kept in their order. */
  #commit(): Promise<void> {
    clearTimeout(this.#commitTimer)
    this.#commitTimer = undefined
    this.#count()
    const [name, store, ledger, waiting] = [this.#storeName, this.#store, this.#ledger, this.#waiting]
    if (waiting.length === 0) return this.#committing
    this.#committing = this.#committing.then(async () => {
      const entries = [...waiting]
      if (entries.length === 0 || !ledger || name === undefined) return
      const started = this.#world().elapsed()
      try {
        await store?.commit(entries, (this.#store === store && this.#ledger) || ledger)
        waiting.splice(0, entries.length)
        if (waiting.length === 0) takeLate(name)
        const took = this.#world().elapsed() - started
        this.#commitAfter = Math.min(COMMIT_LONGEST, Math.max(COMMIT_MILLISECONDS, took / COMMIT_SHARE))
        if (store && !this.kept) this.#nowKept(true)
      } catch {
        waiting.splice(0, waiting.length - MOST_WAITING)
        if (this.#store !== store) {
          saveLate(name, waiting)
          return
        }
        this.#commitTimer ??= setTimeout(this.#flush, COMMIT_LONGEST)
        this.#nowKept(false)
      }
    })
    return this.#committing
  }

  #nowKept(kept: boolean): void {
    this.kept = kept
    this.#host.requestUpdate()
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
