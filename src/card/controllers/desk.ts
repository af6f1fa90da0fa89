import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { Entry } from '../../ledger/types.ts'
import { type Deed, sayDeed, sayRound, startDeed, undoDeed, type Ways } from '../deeds.ts'
import { turnedPages } from '../pages.ts'
import type { Hands, View } from '../scene.ts'
import type { Sort } from '../urgency.ts'
import type { Account } from '../world.ts'
import { Focus } from './focus.ts'

/** What was said stays on the sheet this long, with its way back. */
const DEED_MILLISECONDS = 5 * 60_000
/** The same said again this soon is a second tap. */
const TWICE_MILLISECONDS = 1_000
/** A sheet that nobody touched for this long goes back to the house. */
const IDLE_MILLISECONDS = 10 * 60_000
const HALF_DAY = 12 * 3_600_000
const STORY_ENTRIES = 2000

/** The heading of what was opened. */
const PANEL = ['.panel h2'] as const

interface Reach {
  now(): number
  ways(): Ways
  cellOf(mark: string): string | undefined
  story(mark: string, limit: number): Promise<readonly Entry[]>
  /** The view that the attribute asks for. */
  restingView(): View
  connect(account: Account): void
  forget(): void
  startRound(): void
  endRound(): readonly Entry[]
  leaveOut(natural: boolean): void
}

/** What the person at the wall has chosen and said. */
export class Desk implements ReactiveController {
  view: View = 'sheet'
  sort: Sort = 'urgency'
  typed = ''
  page = 0
  told: string | undefined
  story: readonly Entry[] = []
  deed: Deed | undefined
  /** What is on its way. */
  readonly #sending = new Set<Deed>()
  ticked: ReadonlySet<string> = new Set()
  wasUnsure: ReadonlySet<string> = new Set()
  sinceHome: number | undefined
  /** What is to have the focus after the next drawing, the first that is seen. */
  #focus: string[] = []
  /** The story was opened from the drawing. */
  #isFromPlan = false
  /** The page is being printed. */
  printing = false
  readonly #host: ReactiveControllerHost & HTMLElement & { drawNow(): void }
  readonly #reach: Reach
  #touchedAt = 0
  /** Pages that the sheet has turned by itself, as it was drawn last. */
  #turned = 0

  constructor(host: ReactiveControllerHost & HTMLElement & { drawNow(): void }, reach: Reach) {
    this.#host = host
    this.#reach = reach
    host.addEventListener('pointerdown', this.#touched)
    // What a screen reader presses has no pointer.
    host.addEventListener('click', this.#touched, { capture: true })
    host.addEventListener('keydown', this.#keyed)
    host.addEventListener('focusin', this.#touched)
    host.addController(this)
    new Focus(host, () => this.#focus.splice(0))
  }

  hostConnected(): void {
    this.#touchedAt = this.#reach.now()
    addEventListener('beforeprint', this.#print)
    addEventListener('afterprint', this.#print)
  }

  hostDisconnected(): void {
    removeEventListener('beforeprint', this.#print)
    removeEventListener('afterprint', this.#print)
  }

  /** Milliseconds since anybody touched the sheet. */
  get idle(): number {
    return Math.abs(this.#reach.now() - this.#touchedAt)
  }

  /** Marks of which something is on its way. */
  get sending(): ReadonlySet<string> {
    return new Set([...this.#sending].flatMap(({ said }) => said.map(({ mark }) => mark)))
  }

  /** Pages turned by itself: none under a person's focus, or where no motion is wanted. */
  get turned(): number {
    const pages = turnedPages(this.idle, this.#reach.now())
    this.#turned = pages > 0 && this.#mayTurn ? pages : 0
    return this.#turned
  }

  get #mayTurn(): boolean {
    const isFocused = this.#host.shadowRoot?.activeElement?.matches(':focus-visible') ?? false
    return !isFocused && !matchMedia('(prefers-reduced-motion: reduce)').matches
  }

  tick(): void {
    const { deed } = this
    if (deed && deed.state !== 'sending' && Math.abs(this.#reach.now() - deed.at) > DEED_MILLISECONDS) {
      this.deed = undefined
    }
    if (this.idle <= IDLE_MILLISECONDS || this.view === 'round') return
    // A sheet under a focus turns no page.
    const focused = this.#host.shadowRoot?.activeElement as HTMLElement | SVGElement | null
    focused?.blur()
    this.told = undefined
    this.typed = ''
    this.sinceHome = undefined
    this.ticked = this.wasUnsure = new Set()
    this.show(this.#reach.restingView())
  }

  show(view: View): void {
    this.view = view
    if (view === 'home') this.sinceHome ??= this.#reach.now() - HALF_DAY
  }

  /** What was heard of the opening whose story is open. */
  heard(entry: Entry): void {
    if (entry.mark === this.told) this.story = [...this.story, entry]
  }

  readonly hands: Hands = {
    view: view => {
      this.#turn(() => {
        const [from, home] = [this.view, this.#homeView()]
        this.show(view === 'sheet' ? home : view)
        this.told = undefined
        this.ticked = this.wasUnsure = new Set()
        if (this.view !== home) this.#focus = [...PANEL]
        // Back from a story its row has it already.
        else if (this.#focus.length === 0) this.#focus = [`.acts [data-way="${from}"]`, '.headline']
      })
    },
    sort: sort => this.#turn(() => (this.sort = sort)),
    type: typed => this.#turn(() => (this.typed = typed)),
    turnTo: page => this.#turn(() => (this.page = page)),
    tell: mark =>
      this.#turn(() => {
        const left = this.told === undefined ? undefined : `[data-mark="${CSS.escape(this.told)}"]`
        if (mark !== undefined) {
          this.#focus = [...PANEL]
          this.#isFromPlan = this.#host.shadowRoot?.activeElement?.matches('.opening') ?? false
        } else if (left) {
          const ways = [`.more${left}`, `.row-open${left}`, `.opening${left}`]
          this.#focus = this.#isFromPlan ? ways.reverse() : ways
        }
        this.told = mark
        this.story = []
        if (mark !== undefined) void this.#fetchStory(mark)
      }),
    seenShut: (marks, unsure = false) => {
      const others = [...this.wasUnsure].filter(mark => !marks.includes(mark))
      this.wasUnsure = new Set(unsure ? [...others, ...marks] : others)
      this.ticked = new Set([...this.ticked, ...marks])
      void this.#do(startDeed('seen-closed', marks, this.#reach.now()))
    },
    fitCell: mark => void this.#do(startDeed('cell-fitted', [mark], this.#reach.now())),
    fail: mark => void this.#do(startDeed('failed', [mark], this.#reach.now())),
    undo: () => void this.#undo(),
    since: time => this.#turn(() => (this.sinceHome = time)),
    print: () => print(),
    connect: (user, password) => this.#reach.connect({ user, password }),
    forget: () => this.#reach.forget(),
    startRound: () => {
      this.#focus = [...PANEL]
      this.#reach.startRound()
    },
    endRound: () => {
      this.#focus = [...PANEL]
      void this.#endRound()
    },
    leaveOut: natural => this.#reach.leaveOut(natural),
  }

  /** The house as the attribute wants it shown: what one comes back to. */
  #homeView(): View {
    const resting = this.#reach.restingView()
    return resting === 'schedule' || resting === 'elevations' ? resting : 'sheet'
  }

  #turn(change: () => void): void {
    change()
    this.#host.requestUpdate()
  }

  async #fetchStory(mark: string): Promise<void> {
    const story = await this.#reach.story(mark, STORY_ENTRIES)
    if (this.told === mark) this.#turn(() => (this.story = story))
  }

  async #do(deed: Deed): Promise<void> {
    // Pressed again it is the same deed.
    const { deed: last } = this
    const isJustNoted = last?.state === 'noted' && Math.abs(deed.at - last.at) < TWICE_MILLISECONDS
    if ([...this.#sending, ...(isJustNoted ? [last] : [])].some(each => isSame(each, deed))) return
    this.#sending.add(deed)
    this.#turn(() => (this.deed = deed))
    const done = await sayDeed(deed, this.#reach.ways(), mark => this.#reach.cellOf(mark))
    this.#sending.delete(deed)
    this.#turn(() => {
      // What failed is told, whatever was said since.
      if (this.deed === deed || done.state === 'failed') this.deed = done
      this.#untick(done.lost ?? [])
    })
  }

  #untick(marks: readonly string[]): void {
    const others = (ticks: ReadonlySet<string>) => new Set([...ticks].filter(mark => !marks.includes(mark)))
    this.ticked = others(this.ticked)
    this.wasUnsure = others(this.wasUnsure)
  }

  async #undo(): Promise<void> {
    const { deed } = this
    if (!deed || deed.said.length === 0) return
    const sending: Deed = { ...deed, state: 'sending' }
    this.#turn(() => (this.deed = sending))
    const done = await undoDeed(deed, this.#reach.ways())
    this.#turn(() => {
      if (this.deed === sending) this.deed = { ...done, at: this.#reach.now() }
      this.#untick(deed.said.flatMap(({ mark }) => (done.lost?.includes(mark) ? [] : mark)))
    })
  }

  async #endRound(): Promise<void> {
    const failed = await sayRound(this.#reach.endRound(), this.#reach.ways())
    if (failed) this.#turn(() => (this.deed = failed))
  }

  /** The browser takes the page as it stands when this returns. */
  readonly #print = ({ type }: Event) => {
    this.printing = type === 'beforeprint'
    this.#host.drawNow()
  }

  readonly #touched = (event: Event) => {
    this.#touch()
    // The second tap of two may fall on what stood elsewhere at the first; a page may be turned as fast as one likes.
    const isAgain = event.type === 'click' && (event as MouseEvent).detail > 1
    if (isAgain && !(event.composedPath()[0] as Element).closest('.page-turn')) {
      event.stopPropagation()
      event.preventDefault()
    }
    this.#host.requestUpdate()
  }

  /** The page that was turned to by itself stays: what is under the finger must not change. */
  #touch(): void {
    this.page += this.#turned
    this.#turned = 0
    this.#touchedAt = this.#reach.now()
  }

  readonly #keyed = (event: KeyboardEvent) => {
    this.#touch()
    // A key that is held down ticks one opening, not those that come after it.
    if (event.repeat && event.key === 'Enter') event.preventDefault()
    if (event.key !== 'Escape') return
    if (this.told) this.hands.tell(undefined)
    else if (this.view !== this.#reach.restingView()) this.hands.view(this.#reach.restingView())
  }
}

const isSame = (a: Deed, b: Deed): boolean =>
  a.what === b.what &&
  a.said.length === b.said.length &&
  a.said.every(({ mark }, index) => mark === b.said[index]?.mark)
