import type { ReactiveController, ReactiveControllerHost } from 'lit'
import { earsOf, leftOf, policyOf } from '../../house.ts'
import { applyAll, type Ledger, own, startLedger, withPolicy } from '../../ledger/apply.ts'
import { UNHEARD, willFloor } from '../../ledger/fold.ts'
import { type Ears, hear } from '../../ledger/hear.ts'
import type { Entry, Heard, HousePolicy, Reading, Store, What } from '../../ledger/types.ts'
import type { Register } from '../../register/types.ts'
import { freshId } from '../frame.ts'
import type { CardWorld } from '../world.ts'
import { Commits } from './commits.ts'
import { Forecasts } from './forecasts.ts'
import type { Gap } from './gaps.ts'
import { inTime, isSame, takeLate } from './late.ts'
import { type Pen, takePen } from './pen.ts'
import { Reader } from './reader.ts'

const CONTACT_WORDS: readonly What[] = ['opened', 'rest', 'closed', 'gone', 'odd']
/** How far back another page may have kept nothing before it went, and how many words that are at most. */
const BESIDE_MILLISECONDS = 15_000
const MOST_BESIDE = 1_000
const NOTHING: ReadonlyMap<string, Reading> = new Map()

/** What this tablet itself has heard: a ledger, kept in the browser's store. */
export class OwnTally implements ReactiveController {
  /** False while another page on this tablet keeps the tally: this one then shows it and keeps nothing. */
  writes = true
  readonly #host: ReactiveControllerHost
  readonly #world: () => CardWorld
  readonly #counted: (entry: Entry) => void
  #register: Register | undefined
  #policy: HousePolicy = {}
  #ears: Ears = new Map()
  #ledger: Ledger | undefined
  #opened: Store<Ledger> | undefined
  /** The same, once it has been read. */
  #store: Store<Ledger> | undefined
  #storeName: string | undefined
  #pen: Pen | undefined
  /** Which loading this is: a later one goes before. */
  #loading = 0
  #isLoading = false
  #closing: Promise<void> = Promise.resolve()
  /** Heard lately while another page kept the tally: what that one may not have kept before it went. */
  #beside: Entry[] = []
  /** Heard, and not yet in the ledger. */
  #gathered: Entry[] = []
  readonly #commits: Commits
  #early: { message: Heard; at: number; live: number | undefined }[] = []
  #gap: Gap | undefined
  readonly #reader = new Reader()
  readonly #forecasts: Forecasts

  constructor(host: ReactiveControllerHost, world: () => CardWorld, counted: (entry: Entry) => void) {
    this.#host = host
    this.#world = world
    this.#counted = counted
    this.#forecasts = new Forecasts(
      () => this.#register && this.ledger && leftOf(this.#register, this.ledger, world().now()),
      () => host.requestUpdate(),
    )
    // What was gathered is counted first: a ledger is kept together with its entries.
    this.#commits = new Commits(
      () => ({ name: this.#storeName, store: this.#store, ledger: this.ledger }),
      () => world().elapsed(),
      () => host.requestUpdate(),
    )
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
    if (!this.#ledger || this.#isLoading) {
      this.#gap = this.#gap ? { ...this.#gap, to: gap.to } : gap
      return
    }
    if (!this.writes) return
    const { from = Number.NEGATIVE_INFINITY, to } = gap
    const at = new Date(to).toISOString()
    for (const [mark, policy] of Object.entries(this.#policy)) {
      const fold = own(this.ledger?.marks ?? {}, mark)?.fold
      if (policy.reports === 'both' || fold?.state !== 'closed' || to - from < willFloor(policy)) continue
      this.add({ id: freshId(), at, mark, what: 'note', how: 'live', by: 'sashtally', text: UNHEARD })
    }
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
    return ledger ? this.#reader.read(ledger, this.#policy, this.#forecasts.left, now) : NOTHING
  }

  use(register: Register): void {
    this.#count()
    this.#register = register
    this.#policy = policyOf(register)
    this.#ears = earsOf(register)
    if (this.#ledger) this.#ledger = withPolicy(this.#ledger, this.#policy)
    this.#open(register.tally)
    this.#forecasts.soon()
  }

  /** @param liveSince - when the link came up without a gap since, milliseconds */
  hear(message: Heard, liveSince: number | undefined, at = this.#world().now()): void {
    if (this.#ears.has(message.topic)) this.hears = true
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
    if (CONTACT_WORDS.includes(entry.what)) this.#commits.soon()
    else {
      if (this.writes) this.#pen?.tell(entry)
      void this.#commits.now()
    }
    this.#forecasts.soon()
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
    if (this.writes) this.#commits.wait(gathered)
  }

  async story(mark: string, limit: number): Promise<readonly Entry[]> {
    await this.#commits.now()
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
    this.#closing = inTime(this.#commits.now()).then(letGo, letGo)
    this.#loading++
    this.#opened = undefined
    this.#store = undefined
    this.#storeName = undefined
    this.#pen = undefined
    this.#ledger = undefined
    this.#commits.forget()
    this.#early = []
    this.#beside = []
  }

  /** Anew whenever it is another page's turn: what that page kept is read, and what comes meanwhile counts after it. */
  async #load(name: string, store: Store<Ledger> | undefined, writes: boolean): Promise<void> {
    const loading = ++this.#loading
    this.#isLoading = true
    if (!writes) {
      this.writes = false
      this.#commits.forget()
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
    this.#commits.kept = kept
    this.writes = writes || !kept
    this.#store = kept ? store : undefined
    // A tally that is kept nowhere has only what this page has heard.
    if (kept || !this.#ledger) this.#begin(name, ledger)
    const gap = this.#gap
    this.#gap = undefined
    if (gap) this.missed(gap)
    for (const { message, at, live } of this.#early.splice(0)) this.hear(message, live, at)
    this.#forecasts.soon()
    this.#host.requestUpdate()
  }

  #begin(name: string, ledger: Ledger | undefined): void {
    this.#gathered = []
    this.#ledger = ledger?.v === 1 ? withPolicy(ledger, this.#policy) : startLedger(this.#policy, this.#iso())
    if (!ledger && this.writes) this.#commits.keepEmpty()
    if (this.#store && this.writes) {
      const { marks } = this.#ledger
      const isNew = (late: Entry) => !own(marks, late.mark)?.window.some(({ entry }) => isSame(entry, late))
      this.#gathered = [...takeLate(name), ...this.#beside.splice(0)].filter(isNew)
      void this.#commits.now()
    }
  }

  #iso(): string {
    return new Date(this.#world().now()).toISOString()
  }

  readonly #leave = ({ type }: Event) => {
    if (type === 'pagehide' || document.hidden) {
      this.#count()
      this.#commits.leave()
    }
    void this.#commits.now()
  }
}
