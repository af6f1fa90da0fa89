import { leftOf } from '../house/forecast.ts'
import { policyOf } from '../house/policy.ts'
import { withPolicy } from '../ledger/apply.ts'
import type { Heard, LinkState } from '../protocol/feed.ts'
import { parseKeeper } from '../protocol/keeper-note.ts'
import type { HousePolicy } from '../protocol/policy.ts'
import type { Reading } from '../protocol/reading.ts'
import { type TallyTopics, tallyPlace, tallyTopics } from '../protocol/topics.ts'
import type { Register } from '../register/types.ts'
import { utf8Text } from '../text/utf8.ts'
import { BootWatch } from './boot-watch.ts'
import { every, StepWatch } from './clock.ts'
import { DAY_HOURS, Herald } from './herald.ts'
import { type Committed, Journal } from './journal.ts'
import { LinkSide } from './link-side.ts'
import { Listening } from './listening.ts'
import { sameReading } from './notes.ts'
import type { KeeperOptions } from './options.ts'
import { Outlet } from './outlet.ts'
import { RestWords } from './rest-words.ts'
import { mustRecount, recountSlowly } from './rules.ts'
import { type CaughtUp, clockSentence, Grumbler, RESTART, recountSentence, silentSentence } from './sentences.ts'
import { Sheet } from './sheet.ts'
import { Signboard } from './signboard.ts'
import { missedAtQos0 } from './unheard.ts'

const BEAT_MILLISECONDS = 30_000

/** Keeps the tally of one house, from words to readings. It must be alone: see `lock.ts` and `challenge.ts`. */
export class Keeper {
  readonly #o: KeeperOptions
  readonly #topics: TallyTopics
  readonly #journal: Journal
  readonly #link: LinkSide
  readonly #outlet: Outlet
  readonly #sign: Signboard
  readonly #sheet: Sheet
  readonly #steps: StepWatch
  readonly #boots: BootWatch
  readonly #rest: RestWords
  readonly #grumbler: Grumbler
  readonly #herald: Herald
  readonly #listening: Listening
  readonly #cancels: (() => void)[] = []
  #register: Register
  #policy: HousePolicy
  #next: Register | undefined
  #recounting = false
  #surveys = 0
  #committedAt = 0
  #end: (why: string) => void = () => {}
  #stopped = false
  /** Resolves with a sentence when this keeper must end: another one has taken its place. */
  readonly ended = new Promise<string>(done => {
    this.#end = done
  })

  #arrived: () => void = () => {}
  /** Resolves when the first link is up and this keeper answers for the house. */
  readonly live = new Promise<void>(done => {
    this.#arrived = done
  })

  constructor(options: KeeperOptions) {
    const { register, store, ledger, feed, clock, keeper, startedIso } = options
    this.#o = options
    this.#register = register
    this.#policy = policyOf(register)
    this.#topics = tallyTopics(register.tally)
    this.#sign = new Signboard(clock, startedIso)
    this.#herald = new Herald({
      sign: this.#sign,
      feed,
      topic: this.#topics.keeper,
      tell: line => this.#o.tell(line),
      isSettled: () => this.#link.isSettled,
      published: () => this.#link.touch(),
    })
    this.#listening = new Listening(feed, this.#topics, register, {
      missed: missed => this.#journal.missed(missed),
      problem: text => this.#herald.standing('deaf', text),
    })
    this.#steps = new StepWatch(clock)
    this.#rest = new RestWords(feed, options.tell)
    this.#grumbler = new Grumbler(clock.monotonic, options.tell)
    this.#boots = new BootWatch(ledger)
    this.#outlet = new Outlet((topic, payload) => feed.publish(topic, payload, { qos: 1, retain: true }))
    this.#journal = new Journal(store, ledger, clock, {
      committed: what => this.#committed(what),
      trouble: problem => this.#herald.trouble(problem),
    })
    this.#journal.tally = register.tally
    this.#sheet = new Sheet(
      this.#outlet,
      this.#topics,
      clock,
      entry => this.#journal.add(entry),
      line => this.#o.tell(line),
      options.forecast ?? leftOf,
    )
    const lastLive = Date.parse(store.fact('lastLive') ?? '')
    this.#link = new LinkSide(
      {
        feed,
        topics: this.#topics,
        tally: register.tally,
        keeper,
        startedIso,
        clock,
        ...(Number.isNaN(lastLive) ? {} : { lastLive }),
      },
      {
        began: present => this.#began(present),
        silent: () => this.#herald.silent(silentSentence(this.#topics.filters.echoes), this.#o.warn),
        caughtUp: session => this.#caughtUp(session),
        settled: () => this.#settled(),
        lost: state => this.#lost(state),
        refused: ({ why, filters }) =>
          filters ? this.#listening.refused(filters) : this.#o.tell(`the broker refuses: ${why}; trying on`),
      },
    )
  }

  start(): void {
    this.#use(this.#register)
    this.#cancels.push(every(this.#o.clock, BEAT_MILLISECONDS, () => this.#beat()))
    this.#o.feed.open({ heard: message => this.#heard(message), link: state => this.#link.link(state) })
  }

  /** What may be said of each opening now. */
  readings(): readonly Reading[] {
    return this.#sheet.readings(this.#journal.ledger)
  }

  /** Goes on with an edited register; the address of the broker and the tally's topics need a new start. */
  adopt(register: Register): void {
    if (this.#recounting) {
      this.#next = register
      return
    }
    const { tally, broker } = this.#register
    const isElsewhere = register.tally !== tally || JSON.stringify(register.broker) !== JSON.stringify(broker)
    this.#herald.notice('restart', isElsewhere ? RESTART : undefined)
    this.#herald.notice('register', undefined)
    this.#register = { ...register, tally, broker }
    this.#policy = policyOf(register)
    if (mustRecount(this.#journal.ledger, this.#policy)) void this.#recount()
    else {
      this.#journal.ledger = withPolicy(this.#journal.ledger, this.#policy)
      this.#use(this.#register)
    }
    this.#o.tell(`the register was read again: ${register.openings.length} openings`)
  }

  /** An edit that cannot be used: the last good register stays, and the sheet says so. */
  refuseEdit(problem: string): void {
    this.#herald.standing('register', problem)
  }

  /** Writes what is left, says that it is gone and lets go of the link. The store stays open. */
  async stop(): Promise<void> {
    if (this.#stopped) return
    this.#stopped = true
    for (const cancel of this.#cancels) cancel()
    this.#sheet.stop()
    this.#journal.end()
    if (this.#link.isSettled) await this.#herald.publish('gone')
    this.#link.stop()
    await this.#o.feed.close()
  }

  async #recount(): Promise<void> {
    this.#recounting = true
    this.#journal.hold()
    this.#o.tell('the register counts openings by other rules now: counting the whole tally again')
    try {
      const ledger = await recountSlowly(this.#o.store, this.#policy, () => this.#stopped)
      if (!ledger) return
      this.#journal.release(ledger)
    } catch (error) {
      this.#journal.release(withPolicy(this.#journal.ledger, this.#policy))
      this.#herald.notice('recount', recountSentence(error))
    }
    this.#recounting = false
    this.#use(this.#register)
    const next = this.#next
    this.#next = undefined
    if (next) this.adopt(next)
  }

  #use(register: Register): void {
    this.#journal.use(register, this.#policy)
    this.#sheet.use(register, this.#policy, this.#journal.ledger)
    this.#listening.listen(!this.#link.isCaughtUp, this.#register)
  }

  #heard(message: Heard): void | Promise<void> {
    const place = tallyPlace(this.#register.tally, message.topic)
    switch (place?.kind) {
      case 'echo':
        this.#link.echo(message)
        return
      case 'keeper':
        if (message.retain) this.#meet(message)
        return
      case 'register':
      case 'opening':
      case 'plain': {
        const text = utf8Text(message.payload)
        if (message.retain && text !== '') {
          this.#outlet.seen(message.topic, place.kind === 'opening' ? sameReading(text) : text)
        }
        return
      }
      case 'heard':
        return
      case 'say':
        return this.#journal.take(message, this.#arrival(message))
    }
    if (this.#rest.isOwn(message)) return
    return this.#journal.take(message, this.#arrival(message))
  }

  #arrival(message: Heard) {
    const arrival = this.#link.arrival(message)
    if (this.#link.lastLive !== undefined) this.#journal.lastLive = this.#link.lastLive
    return arrival
  }

  /** Another keeper's state where this one's should stand: it took the session, so this one gives way. */
  #meet(message: Heard): void {
    const note = parseKeeper(utf8Text(message.payload))
    if (!note || this.#sign.isMine(note.since)) return
    if (this.#surveys === 0) this.#sign.disown(note.since)
    else this.#end(`another keeper of ${this.#register.tally} has been at work since ${note.since}: this one ends`)
  }

  #began(present: boolean): void {
    this.#outlet.shut()
    this.#rest.forget()
    const gone = this.#o.clock.now() - (this.#link.lastLive ?? Number.NEGATIVE_INFINITY)
    if (present) this.#journal.missed({ marks: missedAtQos0(this.#register, this.#policy, gone) })
    else this.#journal.forgetSession()
    this.#boots.gap()
    this.#listening.began()
  }

  #caughtUp(session: CaughtUp): void {
    this.#herald.caughtUp(session, this.#o.clock.now())
    this.#listening.caughtUp()
    this.#boots.gap()
  }

  #settled(): void {
    const first = this.#surveys++ === 0
    for (const topic of this.#outlet.strays()) this.#outlet.clear(topic)
    this.#outlet.open()
    this.#o.tell(first ? `keeping ${this.#register.openings.length} openings` : 'the link is back')
    void this.#herald.publish()
    this.#arrived()
    if (first && this.#o.giveRestWords) void this.#rest.give(this.#register)
  }

  #lost(state: LinkState): void {
    this.#outlet.shut()
    if (state.state === 'down') this.#o.tell(`the link is down${state.why ? `: ${state.why}` : ''}; trying on`)
  }

  #committed({ entries, answers, refused }: Committed): void {
    this.#grumbler.say(refused)
    for (const { id, note } of answers) {
      this.#o.feed.publish(this.#topics.heard(id), JSON.stringify(note)).catch(() => {})
    }
    if (entries.length === 0) return
    this.#committedAt = this.#o.clock.monotonic()
    this.#watchClock()
    const gap = this.#boots.look(entries)
    if (gap) this.#herald.notice('boots', gap, DAY_HOURS)
    this.#sheet.changed(this.#journal.ledger, entries)
  }

  #beat(): void {
    this.#watchClock()
    if (this.#o.clock.monotonic() - this.#committedAt > BEAT_MILLISECONDS / 2 && !this.#recounting) this.#journal.rest()
    this.#sheet.refresh(this.#journal.ledger)
    if (this.#link.isCaughtUp) this.#listening.beat()
    void this.#herald.publish()
  }

  #watchClock(): void {
    const step = this.#steps.look()
    if (step === 0) return
    this.#herald.notice('clock', clockSentence(step, this.#o.clock.now()), DAY_HOURS)
    void this.#herald.publish()
  }
}
