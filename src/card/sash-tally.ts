import { html, LitElement, nothing, type PropertyValues, type TemplateResult } from 'lit'
import { oneOf } from '../text/one-of.ts'
import { AccountKeeper } from './controllers/account.ts'
import { Announcer } from './controllers/announcer.ts'
import { Area } from './controllers/area.ts'
import { Focus } from './controllers/focus.ts'
import { langAround } from './controllers/lang-around.ts'
import { PageLife } from './controllers/page-life.ts'
import { Presses } from './controllers/presses.ts'
import { RegisterSource } from './controllers/register-source.ts'
import { Wire } from './controllers/wire.ts'
import { carrierOf } from './effects/carry-out.ts'
import { DrawingPace } from './effects/drawing-pace.ts'
import { SashLink, SashOpened } from './events.ts'
import { Loop } from './loop.ts'
import { isNight } from './select/night.ts'
import { type Page, Selector } from './select/select.ts'
import { idleFor, SORTS, VIEWS } from './state/chosen.ts'
import { hearsNothing } from './state/link.ts'
import { styles } from './styles/styles.ts'
import { accountForm, refusal } from './views/account-form.ts'
import { noHouse } from './views/no-house.ts'
import { type Stage, sheet } from './views/sheet.ts'
import { wordsFor } from './words/words.ts'
import type { CardWorld } from './world.ts'

export { SashLink, SashOpened } from './events.ts'
export type { CardWorld } from './world.ts'

/**
 * The wall of a house: what may be open, what nobody has seen shut, what is untested, and how many openings each cell
 * has left. Its children show until it has something to say itself, and a `<script type="application/yaml">` (or
 * `application/json`) among them may hold the register itself.
 *
 * @element sash-tally
 * @attr {string} register - URL of the register (YAML or JSON)
 * @attr {string} broker - `ws:` or `wss:` address of the broker, or addresses with blanks between; default: `broker.websocket` of the register
 * @attr {string} tally - topic prefix of a keeper's tally, for a wall that has no register of its own
 * @attr {'auto'|'paper'|'blueprint'} sheet - light, dark, or as the system says (default)
 * @attr {'sheet'|'schedule'|'elevations'|'last-look'|'while-out'|'round'|'signs'} view - what is shown first
 * @attr {'urgency'|'room'|'side'|'mark'} sort - order of the schedule
 * @attr {boolean} may-say - with a keeper: this wall may say that something was seen shut
 * @attr {string} by - name of this wall, or of who uses it: what is said here is signed so
 * @attr {string} lang - `en` or `de`, with any region; default: the page's language, then the browser's
 * @fires {SashOpened} sash-opened - an opening was heard to open, live
 * @fires {SashLink} sash-link - the link to the broker changed
 * @slot - shown while the register is being read
 * @csspart headline - the large line
 * @csspart counts - the counts beside it
 * @csspart elevations - the drawing
 * @csspart schedule - the list of openings
 * @csspart row - one opening of the list
 * @csspart story - one opening in full
 * @csspart last-look - the last look round
 * @csspart while-out - what opened since a time
 * @csspart round - the walk round the house
 * @csspart signs - what the signs mean
 * @csspart acts - the buttons
 * @csspart act - "I looked, it is shut"
 * @csspart account - the question for user name and password
 * @csspart title-block - house, whose tally it is, and what it is not
 * @csspart bands - what tablet and keeper have to say, in full
 * @cssprop --sash-paper - ground of the sheet
 * @cssprop --sash-face - walls in elevation
 * @cssprop --sash-line - lines and text
 * @cssprop --sash-note - quieter text
 * @cssprop --sash-faint - quieter lines
 * @cssprop --sash-ghost - ornament
 * @cssprop --sash-open - what is open
 * @cssprop --sash-opened - what was opened and not seen shut
 * @cssprop --sash-doubt - what is in doubt
 * @cssprop --sash-on-open - text on what is open
 * @cssprop --sash-font - typeface
 */
export class SashTally extends LitElement {
  static override get styles() {
    return styles
  }
  static override get properties() {
    return {
      register: {},
      broker: {},
      tally: {},
      view: {},
      sheet: {},
      sort: {},
      maySay: { type: Boolean, attribute: 'may-say' },
      by: {},
      lang: {},
    }
  }

  /** The world of every card on the page; the define module gives it the link and the store. */
  declare static world: CardWorld

  declare register: string | null
  declare broker: string | null
  declare tally: string | null
  declare view: string | null
  declare sheet: string | null
  declare sort: string | null
  declare by: string | null
  declare maySay: boolean

  readonly #world = () => (this.constructor as typeof SashTally).world
  readonly #loop = new Loop(this.#world, () => {
    if (this.isConnected) this.requestUpdate()
  })
  readonly #account = new AccountKeeper(() => this.requestUpdate())
  readonly #source = new RegisterSource(this, {
    asked: () => this.#loop.dispatch({ kind: 'register-asked' }),
    found: (found, url) => this.#loop.dispatch({ kind: 'register', found, url }),
  })
  readonly #wire = new Wire(this, this.#world, {
    heard: this.#loop.gather,
    standing: standing => this.#loop.dispatch({ kind: 'link', standing }),
    dialled: () => this.#loop.dispatch({ kind: 'dialled' }),
  })
  readonly #area = new Area(this)
  readonly #announcer = new Announcer(this)
  readonly #focus = new Focus(this)
  readonly #selector = new Selector()
  readonly #pace = new DrawingPace()
  /** How much of the sheet has been drawn. */
  #stage: Stage = 'frame'

  constructor() {
    super()
    this.register = this.broker = this.tally = this.view = this.sheet = this.sort = this.by = null
    this.maySay = false
    const dispatch = this.#loop.dispatch
    new Presses(this, this.#focus, {
      touched: () => dispatch({ kind: 'touched' }),
      escape: () => dispatch({ kind: 'escape' }),
    })
    new PageLife(this, {
      tick: () => {
        this.#source.tick(this.#world().now())
        dispatch({ kind: 'tick', mayTurn: this.#mayTurn })
      },
      leaving: () => dispatch({ kind: 'leaving' }),
      printing: isPrinting => dispatch({ kind: 'printing', isPrinting }),
    })
    this.#loop.start(
      carrierOf({
        world: this.#world,
        state: () => this.#loop.state,
        dispatch,
        link: this.#wire,
        account: this.#account,
        page: {
          opened: (mark, at) => this.dispatchEvent(new SashOpened(mark, at)),
          linkChanged: standing => this.dispatchEvent(new SashLink(standing)),
          focus: selectors => this.#focus.wish(selectors),
          putBack: () => this.#focus.letGo(),
          // Without waiting for a frame: what is printed next.
          drawNow: () => {
            this.requestUpdate()
            this.performUpdate()
          },
        },
      }),
    )
  }

  override connectedCallback(): void {
    this.#ask()
    this.#loop.dispatch({ kind: 'joined' })
    super.connectedCallback()
  }

  override disconnectedCallback(): void {
    this.#loop.dispatch({ kind: 'left' })
    super.disconnectedCallback()
  }

  /** At most one drawing a frame, however many words come. */
  protected override async scheduleUpdate(): Promise<void> {
    await this.#pace.turn()
    super.scheduleUpdate()
  }

  protected override willUpdate(changed: PropertyValues<this>): void {
    const asked = ['broker', 'tally', 'view', 'maySay', 'sort', 'by'] as const
    if (asked.some(name => changed.has(name))) this.#ask()
    if (changed.has('register')) this.#source.url = this.register ?? ''
    this.#loop.count()
  }

  protected override render(): TemplateResult {
    const { state } = this.#loop
    const page = this.#page()
    const scene = this.#selector.select(state, page)
    const night = scene && isNight(scene, idleFor(state.chosen, page.now)) ? 'night' : ''
    const heardNothing = hearsNothing(state.link, page.now)
    const asks = { ...page, link: state.link, fresh: false, heardNothing }
    return html`<div class="sheet ${oneOf(['auto', 'paper', 'blueprint'], this.sheet)} ${night}" lang=${page.words.lang}>
      ${scene ? sheet(scene, scene.chosen.isPrinting ? 'all' : this.#stage) : nothing}
      <div class="fallback" ?hidden=${scene !== undefined}>
        ${state.register.state === 'loading' ? html`<slot></slot>` : nothing}
        ${scene ? nothing : noHouse(state.register, page.words, state.attributes.tally, heardNothing)}
        ${scene || refusal(asks) === undefined ? nothing : accountForm(asks)}
      </div>
      ${this.#announcer.region(scene)}
    </div>`
  }

  protected override updated(): void {
    this.#area.watch(this.renderRoot.querySelector('.body'))
    if (this.#stage === 'all' || !this.renderRoot.querySelector('.frame')) return
    // Each in a frame of its own: what may be open is seen before the house is laid out.
    this.#stage = this.#stage === 'frame' ? 'house' : 'all'
    this.requestUpdate()
  }

  #ask(): void {
    this.#loop.dispatch({
      kind: 'attributes',
      attributes: {
        broker: this.broker?.trim().replace(/\s+/g, ' ') ?? '',
        tally: this.tally?.trim() ?? '',
        view: oneOf(VIEWS, this.view),
        sort: oneOf(SORTS, this.sort),
        maySay: this.maySay,
        by: this.by?.trim() ?? '',
      },
    })
  }

  #page(): Page {
    return {
      ...this.#loop.moment,
      words: wordsFor([this.lang, langAround(this), navigator.language]),
      area: { width: this.#area.width, height: this.#area.height },
      accountKept: this.#account.kept,
      act: this.#loop.dispatch,
    }
  }

  /** The sheet turns no page under a person's focus, nor where no motion is wanted. */
  get #mayTurn(): boolean {
    return (
      !this.shadowRoot?.activeElement?.matches(':focus-visible') &&
      !matchMedia('(prefers-reduced-motion: reduce)').matches
    )
  }
}

// Not in the class: where a static field has a value, the bundle writes each private one as a map.
SashTally.world = { now: () => Date.now(), elapsed: () => performance.now() }
