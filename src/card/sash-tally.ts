import { html, LitElement, nothing, type PropertyValues, type TemplateResult } from 'lit'
import type { Entry } from '../protocol/entry.ts'
import { AccountKeeper } from './controllers/account.ts'
import { Announcer } from './controllers/announcer.ts'
import { Area } from './controllers/area.ts'
import { Clock } from './controllers/clock.ts'
import { Desk } from './controllers/desk.ts'
import { Gaps } from './controllers/gaps.ts'
import { HouseSource } from './controllers/house-source.ts'
import { KeeperSide } from './controllers/keeper-side.ts'
import { OwnTally } from './controllers/own-tally.ts'
import { Readings } from './controllers/readings.ts'
import { Rounds } from './controllers/rounds.ts'
import { Wire } from './controllers/wire.ts'
import { Turns } from './effects/frame.ts'
import { SashLink, SashOpened } from './events.ts'
import { isNight } from './select/night.ts'
import { Selector } from './select/select.ts'
import type { Way } from './state/deeds.ts'
import { houseOf } from './state/house.ts'
import { SORTS, VIEWS } from './state/view.ts'
import { styles } from './styles/styles.ts'
import { accountForm, refusal } from './views/account-form.ts'
import { noHouse } from './views/no-house.ts'
import { sheet } from './views/sheet.ts'
import { type Words, wordsFor } from './words/words.ts'
import type { CardWorld } from './world.ts'

export { SashLink, SashOpened } from './events.ts'
export type { CardWorld } from './world.ts'

const SHEETS = ['auto', 'paper', 'blueprint'] as const

const oneOf = <const T extends string>(all: readonly [T, ...T[]], value: string | null): T =>
  all.find(each => each === value) ?? all[0]

/**
 * The wall of a house: what may be open, what nobody has seen shut, what is untested, and how many openings each cell
 * has left. Its children show until it has something to say itself, and a `<script type="application/yaml">` (or
 * `application/json`) among them may hold the register itself.
 *
 * @element sash-tally
 * @attr {string} register - URL of the register (YAML or JSON)
 * @attr {string} broker - `ws:` or `wss:` address of the broker; default: `broker.websocket` of the register
 * @attr {string} tally - topic prefix of a keeper's tally, for a wall that has no register of its own
 * @attr {'auto'|'paper'|'blueprint'} sheet - light, dark, or as the system says (default)
 * @attr {'sheet'|'schedule'|'elevations'|'leaving'|'home'|'round'} view - what is shown first
 * @attr {'urgency'|'room'|'side'|'mark'} sort - order of the schedule
 * @attr {boolean} may-say - with a keeper: this wall may say that something was seen shut
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
 * @csspart leaving - the list for bedtime and leaving
 * @csspart home - what opened since a time
 * @csspart round - the walk round the house
 * @csspart acts - the buttons
 * @csspart act - "I looked, it is shut"
 * @csspart account - the question for user name and password
 * @csspart title-block - house, link, next cell and key
 * @csspart bands - warnings over the whole sheet
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
  static override styles = styles
  static override properties = {
    register: {},
    broker: {},
    tally: {},
    view: {},
    sheet: {},
    sort: {},
    maySay: { type: Boolean, attribute: 'may-say' },
    lang: {},
  }

  /** The world of every card on the page; the define module gives it the link and the store. */
  static world: CardWorld = { now: () => Date.now(), elapsed: () => performance.now() }

  declare register: string | null
  declare broker: string | null
  declare tally: string | null
  declare view: string | null
  declare sheet: string | null
  declare sort: string | null
  declare maySay: boolean

  readonly #world = () => (this.constructor as typeof SashTally).world
  readonly #source = new HouseSource(this, () => this.#plan())
  readonly #account = new AccountKeeper(this)
  readonly #own = new OwnTally(this, this.#world, {
    counted: entry => this.#counted(entry),
    tookOver: () => this.#gaps.takeOver(),
  })
  readonly #keeper = new KeeperSide(this, this.#world, entry => this.#heard(entry))
  readonly #gaps = new Gaps(
    this,
    this.#world,
    gap => this.#own.missed(gap),
    () => this.#own.keeps,
  )
  readonly #wire = new Wire(this, this.#world, {
    heard: message => {
      if (!this.#keeper.hear(message)) this.#own.hear(message, this.#wire.liveSince)
    },
    changed: state => {
      if (state.state !== 'live') this.#keeper.linkLost()
      this.#gaps.link(state.state === 'live' && !state.partial)
      this.dispatchEvent(new SashLink(state))
    },
  })
  readonly #readings = new Readings(this, { own: this.#own, keeper: this.#keeper, wire: this.#wire })
  readonly #rounds = new Rounds(this)
  readonly #turns = new Turns()
  readonly #area = new Area(this)
  readonly #announcer = new Announcer(this)
  readonly #desk = new Desk(this, {
    now: () => this.#world().now(),
    restingView: () => oneOf(VIEWS, this.view),
    cellOf: mark => this.#readings.rowOf(mark)?.opening.cell,
    story: (mark, limit) => this.#own.story(mark, limit),
    ways: () => ({
      way: this.#way(),
      toKeeper: (mark, say) => this.#keeper.say(mark, say, (topic, text) => this.#wire.publish(topic, text)),
      toOwn: entry => {
        this.#own.add(entry)
        // Without a register this tablet has no tally, but it may walk.
        this.#rounds.heard(entry)
      },
      now: () => this.#world().now(),
    }),
    connect: account => {
      this.#account.keep(account)
      this.#plan()
    },
    forget: () => {
      this.#account.forget()
      this.#plan()
    },
    startRound: () => {
      const planned = this.#planned()
      if (planned) this.#rounds.start(planned)
    },
    endRound: () => this.#rounds.end(this.#iso()),
    leaveOut: natural => this.#rounds.choose(natural),
  })
  readonly #clock = new Clock(this, this.#world, {
    each: now => {
      this.#source.tick(now)
      this.#keeper.tick(now, this.#wire.liveSince)
      this.#gaps.tick(now)
      this.#desk.tick()
    },
    woke: () => this.#wire.renew(),
  })

  readonly #selector = new Selector()
  readonly #knowing = {
    source: this.#source,
    account: this.#account,
    own: this.#own,
    keeper: this.#keeper,
    wire: this.#wire,
    readings: this.#readings,
    rounds: this.#rounds,
    area: this.#area,
    desk: this.#desk,
    clock: this.#clock,
  }

  constructor() {
    super()
    this.register = this.broker = this.tally = null
    this.view = this.sheet = this.sort = null
    this.maySay = false
    this.#keeper.late = id => this.#desk.said.late(id)
  }

  /** At most one drawing a frame, however many words come. */
  protected override async scheduleUpdate(): Promise<void> {
    await this.#turns.next()
    super.scheduleUpdate()
  }

  /** Without waiting for a frame: what is printed next. */
  drawNow(): void {
    this.requestUpdate()
    this.performUpdate()
  }

  protected override willUpdate(changed: PropertyValues<this>): void {
    if (changed.has('view')) this.#desk.show(oneOf(VIEWS, this.view))
    if (changed.has('register')) this.#source.url = this.register ?? ''
    if (changed.has('broker') || changed.has('tally')) this.#plan()
    if (changed.has('sort')) this.#desk.sort = oneOf(SORTS, this.sort)
    const now = this.#world().now()
    this.#readings.read(now)
    const { house } = this.#readings
    const tally = this.#own.register?.tally ?? this.tally?.trim() ?? ''
    if (house && this.#rounds.use(tally, house.openings, now)) this.#desk.show('round')
  }

  protected override render(): TemplateResult {
    const pageLang = this.parentElement?.closest('[lang]')?.getAttribute('lang')
    const words = wordsFor([this.lang, pageLang, navigator.language])
    const scene = this.#selector.select(this.#knowing, words, this.#clock.now, this.#way())
    const night = scene && isNight(scene, this.#desk.idle) ? 'night' : ''
    return html`<div class="sheet ${oneOf(SHEETS, this.sheet)} ${night}" lang=${words.lang}>
      ${scene ? sheet(scene) : nothing}
      <div class="fallback" ?hidden=${scene !== undefined}>
        ${this.#source.state.state === 'loading' ? html`<slot></slot>` : nothing}
        ${scene ? nothing : this.#withoutHouse(words)}
      </div>
      ${this.#announcer.region(scene)}
    </div>`
  }

  /** A wall that waits for a keeper may be refused before it has a sheet. */
  #withoutHouse(words: Words): TemplateResult {
    const asks = {
      words,
      hands: this.#desk.hands,
      wire: this.#wire.state,
      fresh: false,
      accountKept: this.#account.kept,
    }
    return html`${noHouse(this.#source.state, words, this.tally?.trim())}
    ${refusal(asks) === undefined ? nothing : accountForm(asks)}`
  }

  protected override updated(): void {
    this.#area.watch(this.renderRoot.querySelector('.plan'))
  }

  /** Register, broker, account or tally changed: who is listened to now. */
  #plan(): void {
    const { state } = this.#source
    const register = state.state === 'read' ? state.register : undefined
    if (register && register !== this.#own.register) {
      this.#own.use(register)
      this.#readings.fileHouse = houseOf(register, this.#own.policy)
      this.#keeper.use(register.tally)
      this.#gaps.use(register.tally)
    }
    const tally = this.tally?.trim()
    if (!register && tally) this.#keeper.use(tally)
    const broker = this.broker?.trim() || register?.broker.websocket || ''
    this.#wire.listen([...this.#own.filters, ...this.#keeper.filters])
    if (register || tally) this.#wire.use(broker, this.#account.for(broker))
    this.requestUpdate()
  }

  /** An entry of this tablet's own tally. */
  #counted(entry: Entry): void {
    this.#desk.heard(entry)
    this.#heard(entry, this.#readings.shown !== 'keeper')
  }

  #heard(entry: Entry, isShown = true): void {
    this.#rounds.heard(entry)
    const isOpening = entry.what === 'opened' && entry.how === 'live'
    if (isShown && isOpening) this.dispatchEvent(new SashOpened(entry.mark, entry.at))
  }

  /** In a house with a keeper a word goes to the keeper or nowhere: this tablet's own tally is not the house's. */
  #way(): Way {
    if (!this.#readings.usesKeeper) return this.#own.writes ? 'own' : 'notOnThisPage'
    if (!this.maySay) return 'onlyLooks'
    return this.#keeper.fresh ? 'keeper' : 'keeperUnheard'
  }

  #planned() {
    const { house, rows } = this.#readings
    return house && this.#rounds.plan(house, rows, this.#iso())
  }

  #iso(): string {
    return new Date(this.#world().now()).toISOString()
  }
}
