import type { ReactiveController, ReactiveControllerHost } from 'lit'
import type { Entry } from '../../protocol/entry.ts'
import { HOUR, MINUTE } from '../../text/time.ts'
import { turnedPages } from '../select/pages.ts'
import type { Hands } from '../select/scene.ts'
import { sayRound } from '../state/deeds.ts'
import type { Sort, View } from '../state/view.ts'
import type { Account } from '../world.ts'
import { Focus } from './focus.ts'
import { Said, type Telling } from './said.ts'

/** A sheet that nobody touched for this long goes back to the house. */
const IDLE_MILLISECONDS = 10 * MINUTE
/** A key that is pressed again this soon was pressed once. */
const BOUNCE_MILLISECONDS = 350
const HALF_DAY = 12 * HOUR
const STORY_ENTRIES = 2000

/** The heading of what was opened. */
const PANEL = ['.panel h2'] as const

interface Reach extends Telling {
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
  readonly said: Said
  readonly #mover: Focus
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
  /** When a key last pressed something, milliseconds of the page. */
  #keyedAt = Number.NEGATIVE_INFINITY
  /** Pages that the sheet has turned by itself, as it was drawn last. */
  #turned = 0

  constructor(host: ReactiveControllerHost & HTMLElement & { drawNow(): void }, reach: Reach) {
    this.#host = host
    this.#reach = reach
    this.said = new Said(reach, () => host.requestUpdate())
    host.addEventListener('pointerdown', this.#touched)
    // What a screen reader presses has no pointer.
    host.addEventListener('click', this.#touched, { capture: true })
    host.addEventListener('keydown', this.#keyed)
    host.addEventListener('focusin', this.#touched)
    host.addController(this)
    this.#mover = new Focus(host, () => this.#focus.splice(0))
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
    this.said.tick()
    if (this.idle <= IDLE_MILLISECONDS || this.view === 'round') return
    // A sheet under a focus turns no page.
    const focused = this.#host.shadowRoot?.activeElement as HTMLElement | SVGElement | null
    focused?.blur()
    this.told = undefined
    this.typed = ''
    this.sinceHome = undefined
    this.said.untickAll()
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
        this.said.untickAll()
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
    seenShut: (marks, unsure = false) => this.said.seenShut(marks, unsure),
    fitCell: mark => this.said.say('cell-fitted', [mark]),
    fail: mark => this.said.say('failed', [mark]),
    undo: deed => void this.said.undo(deed),
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

  async #endRound(): Promise<void> {
    const failed = await sayRound(this.#reach.endRound(), this.#reach.ways())
    if (failed) this.said.fail(failed)
  }

  /** The browser takes the page as it stands when this returns. */
  readonly #print = ({ type }: Event) => {
    this.printing = type === 'beforeprint'
    this.#host.drawNow()
  }

  readonly #touched = (event: Event) => {
    this.#touch()
    if (event.type === 'click' && this.#isAgain(event as MouseEvent)) {
      event.stopPropagation()
      event.preventDefault()
    }
    this.#host.requestUpdate()
  }

  /** The second press of two: it may fall on what stood elsewhere at the first, or has got the focus since. */
  #isAgain(event: MouseEvent): boolean {
    // A page may be turned as fast as one likes.
    if ((event.composedPath()[0] as Element).closest('.page-turn')) return false
    if (event.detail > 0 || !event.isTrusted) return event.detail > 1
    const before = Math.max(this.#keyedAt, this.#mover.movedAt)
    this.#keyedAt = event.timeStamp
    return event.timeStamp - before < BOUNCE_MILLISECONDS
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
