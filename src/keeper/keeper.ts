import type { HouseState } from '../house/state.ts'
import type { LinkState } from '../protocol/feed.ts'
import { BEAT_MILLISECONDS, type KeeperProblemCode } from '../protocol/keeper-note.ts'
import { tallyTopics } from '../protocol/topics.ts'
import type { Register } from '../register/types.ts'
import { MINUTE } from '../text/time.ts'
import { type CheckedClock, checkedClock, every } from './clock.ts'
import { Effects } from './effects.ts'
import { healthOf, type KeeperHealth } from './health.ts'
import { Inbox } from './inbox.ts'
import { Journal } from './journal.ts'
import { type LiveUntil, timesIn } from './live-facts.ts'
import { once } from './once.ts'
import type { KeeperOptions } from './options.ts'
import { Alerts } from './publish/alerts.ts'
import { Outlet } from './publish/outlet.ts'
import { Publisher } from './publish/publisher.ts'
import {
  type CaughtUp,
  foreignSentence,
  OLDER_STORE,
  SEAL_MISSING,
  silentSentence,
  UNKNOWN_SESSION,
} from './publish/sentences.ts'
import { Status } from './publish/status.ts'
import { DAY_HOURS, StatusTopic } from './publish/status-topic.ts'
import { RegisterEdits } from './register-edits.ts'
import { Upkeep } from './repair/upkeep.ts'
import { LinkGaps } from './session/link-gaps.ts'
import { LinkSide } from './session/link-side.ts'
import { RefusalLog } from './session/refusal-log.ts'
import { RestWords } from './session/rest-words.ts'
import { Rival } from './session/rival.ts'
import { SealedFeed } from './session/seal.ts'
import { Subscriptions } from './session/subscriptions.ts'
import { factIn } from './store/facts.ts'
import { houseIn } from './store/rules.ts'
import { Watches } from './watches.ts'

/** Keeps the tally of one house, from words to readings. A house has one keeper: see `lock.ts` and `challenge.ts`. */
export class Keeper {
  readonly #o: KeeperOptions
  readonly #feed: SealedFeed
  readonly #clock: CheckedClock
  readonly #journal: Journal
  readonly #inbox: Inbox
  readonly #link: LinkSide
  readonly #outlet: Outlet
  readonly #status: Status
  readonly #statusTopic: StatusTopic
  readonly #subscriptions: Subscriptions
  readonly #gaps: LinkGaps
  readonly #rival: Rival
  readonly #effects: Effects
  readonly #edits: RegisterEdits
  readonly #watches: Watches
  readonly #restWords: RestWords
  readonly #upkeep: Upkeep | undefined
  readonly health: KeeperHealth
  #cancelBeat = (): void => {}
  #surveys = 0
  #stopped = false
  readonly #ended = once<string>()
  /** Resolves with a sentence when this keeper must end: another one has taken its place. */
  readonly ended = this.#ended.when
  readonly #arrived = once()
  /** Resolves when the first link is up and this keeper answers for the house. */
  readonly live = this.#arrived.when

  constructor(options: KeeperOptions) {
    const { register, store, ledger, keeper, startedIso, tell } = options
    const { lastLive, last } = timesIn(store)
    const clock = checkedClock(options.clock, last)
    // By a clock that may have been ahead nobody knows until when the link was live.
    const isKnown = lastLive !== undefined && lastLive <= clock.now() + MINUTE
    const liveUntil: LiveUntil = { at: isKnown ? lastLive : undefined }
    this.#clock = clock
    this.#o = options
    const topics = tallyTopics(register.tally)
    const state = { ...houseIn(store, ledger, liveUntil.at ?? clock.now()), clockFrom: clock.doubtfulFrom() }
    const journal = new Journal({ store, state, clock, liveUntil, waits: options.waits })
    this.#journal = journal
    const feed = new SealedFeed({
      ...{ feed: options.feed, topics, keeper, clock, seal: factIn(store, 'seal') ?? '' },
      keep: id => journal.keepFact('seal', id),
    })
    this.#feed = feed
    const link = new LinkSide({ feed, topics, tally: register.tally, keeper, startedIso, clock, liveUntil, journal })
    this.#link = link
    this.#status = new Status(clock, startedIso)
    const status = new StatusTopic({
      ...{ status: this.#status, feed, topic: topics.keeper, tell },
      isSettled: () => link.isSettled,
      published: () => link.touch(),
    })
    this.#statusTopic = status
    this.#subscriptions = new Subscriptions(
      { feed, topics, clock, register },
      {
        missed: (marks, to) => journal.play({ kind: 'missed', marks, to }),
        problem: (text, marks) => status.standing('deaf', text, { marks }),
      },
    )
    this.#restWords = new RestWords(feed, tell)
    const foreign = (topic: string) => status.standing('foreign', foreignSentence(topic), {}, DAY_HOURS)
    this.#outlet = new Outlet({ feed, clock, foreign })
    const refusals = new RefusalLog(clock.monotonic, line => tell(line, 'refused'))
    this.#watches = new Watches({ clock, ledger, journal, status, link })
    this.#gaps = new LinkGaps({
      ...{ journal, startedIso, liveUntil, clock, broker: options.broker ?? { isHere: false, wasDown: false } },
      startedBefore: factIn(store, 'started'),
      hadSession: factIn(store, 'session', lastLive === undefined ? '' : 'begun') === 'begun',
      wasMended: factIn(store, 'mended') === 'yes',
    })
    this.#rival = new Rival({ feed, topics, keeper, clock, status: this.#status, ended: this.#ended.now })
    const listen = (to: Register) => this.#subscriptions.listen(!link.isCaughtUp, to)
    this.#edits = new RegisterEdits({ journal, store, status, register, listen, tell })
    const standing = (code: KeeperProblemCode, text: string | undefined) => status.standing(code, text)
    this.#effects = new Effects({
      ...{ journal, clock, tell, standing, forecast: options.forecast },
      publisher: new Publisher(this.#outlet, topics, clock),
      alerts: new Alerts({
        ...{ feed, clock, store, journal, status },
        isSettled: () => link.isSettled,
        unreadable: () => this.#subscriptions.unreadable,
      }),
      answer: (id, note) => void feed.publish(topics.heard(id), JSON.stringify(note)).catch(() => {}),
      refused: lines => refusals.say(lines),
      kept: entries => this.#watches.kept(entries),
      listen: () => listen(this.#edits.register),
    })
    this.#inbox = new Inbox({
      ...{ tally: register.tally, journal, link, outlet: this.#outlet, restWords: this.#restWords },
      ...{ gaps: this.#gaps, rival: this.#rival, isFirst: () => this.#surveys === 0 },
      look: () => this.#watches.clock(),
    })
    this.#upkeep = options.upkeep && new Upkeep({ ...options.upkeep, store, clock, tell, standing })
    this.health = healthOf({ store, journal, refusals, status: this.#status, link, upkeep: this.#upkeep })
  }

  start(): void {
    const { ledger, register, tell } = this.#o
    this.#journal.open({
      played: outcome => this.#effects.carryOut(outcome),
      trouble: problem => this.#statusTopic.trouble(problem),
    })
    this.#link.open({
      began: present => this.#began(present),
      silent: () => this.#statusTopic.silent(silentSentence(tallyTopics(register.tally).filters.echoes)),
      caughtUp: session => this.#caughtUp(session),
      settled: () => this.#settled(),
      lost: state => this.#lost(state),
      refused: ({ why, filters }) =>
        filters ? this.#subscriptions.refused(filters) : tell(`the broker refuses: ${why}; trying on`, 'link-refused'),
    })
    this.#subscriptions.listen(true)
    this.#journal.nextLink()
    this.#journal.play({ kind: 'register', register: this.#edits.register, policies: ledger.policy, ledger })
    this.#watches.begin()
    this.#cancelBeat = every(this.#clock, BEAT_MILLISECONDS, () => this.#beat())
    // Cells are not certain until a forecast speaks of them: the first one comes first, so that few read so.
    const begun = this.#journal.flush().then(() => this.#effects.firstForecast)
    void begun.then(() => {
      if (this.#stopped) return
      this.#feed.open({ heard: message => this.#inbox.heard(message), link: state => this.#link.link(state) })
    })
  }

  /** The house as it is on the disk, read now, or as of the last word, beat or time that was due. */
  state(of: 'now' | 'last' = 'now'): HouseState {
    if (of === 'now') this.#journal.pass()
    return this.#journal.state
  }

  /** Goes on with an edited register; the address of the broker and the tally's topics need a new start. */
  adopt(register: Register): void {
    this.#edits.adopt(register)
  }

  /** An edit that cannot be used: the last good register stays, and the keeper's state says so. */
  refuseEdit(problem: string, isTold = false): void {
    if (isTold) this.#statusTopic.shown('register', problem)
    else this.#statusTopic.standing('register', problem)
  }

  /** Writes what is left, says that it is gone and lets go of the link. The store stays open. */
  async stop(): Promise<void> {
    if (this.#stopped) return
    this.#stopped = true
    await this.#feed.last()
    this.#cancelBeat()
    this.#upkeep?.stop()
    await this.#effects.stop()
    this.#edits.stop()
    this.#rival.stop()
    await this.#journal.end()
    this.#watches.end()
    if (this.#link.isSettled) await this.#statusTopic.publish('gone')
    this.#link.stop()
    await this.#feed.close()
  }

  #began(present: boolean): void {
    this.#outlet.shut()
    this.#restWords.forget()
    this.#watches.gap()
    if (this.#gaps.began(present)) this.#statusTopic.notice('session', UNKNOWN_SESSION, DAY_HOURS)
    this.#subscriptions.began()
  }

  #caughtUp(session: CaughtUp): void {
    const isEmptied = this.#feed.caughtUp()
    if (isEmptied) this.#statusTopic.notice('seal', SEAL_MISSING, DAY_HOURS)
    this.#statusTopic.caughtUp(session, this.#clock.now())
    this.#gaps.caughtUp(session, isEmptied)
    this.#subscriptions.caughtUp()
    this.#watches.gap()
  }

  #settled(): void {
    const first = this.#surveys++ === 0
    for (const topic of this.#outlet.strays()) this.#outlet.clear(topic)
    this.#outlet.open()
    if (this.#gaps.settled()) this.#statusTopic.notice('older', OLDER_STORE, DAY_HOURS)
    if (first) this.#o.tell(`keeping ${this.#edits.register.openings.length} openings`, 'at-work')
    else this.#o.tell('the link is back', 'link-up')
    void this.#statusTopic.publish()
    this.#arrived.now()
    if (first && this.#o.giveRestWords) void this.#restWords.give(this.#edits.register)
  }

  #lost(state: LinkState): void {
    this.#outlet.shut()
    this.#rival.stop()
    this.#gaps.lost(state)
    if (state.state === 'down')
      this.#o.tell(`the link is down${state.why ? `: ${state.why}` : ''}; trying on`, 'link-down')
  }

  #beat(): void {
    this.#watches.beat()
    const isQuiet = this.#watches.quietFor > BEAT_MILLISECONDS / 2
    if (isQuiet && !this.#edits.isRecounting) this.#journal.rest()
    this.#upkeep?.beat(isQuiet)
    this.#journal.pass()
    if (this.#link.isCaughtUp) this.#subscriptions.beat()
    void this.#statusTopic.publish()
  }
}
