/**
 * One sequence of acts for every shell of the machine: what comes over the wire, what people say, what fails. A shell
 * that is right reads as the bare machine does, whatever of its own broke on the way.
 */
import fc from 'fast-check'
import { type Clocks, checkedNow, doubtfulFrom, lookAt, watchClock } from '../../src/house/clock.ts'
import { hearSay } from '../../src/house/hear-say.ts'
import { step } from '../../src/house/machine.ts'
import { policyOf } from '../../src/house/policy.ts'
import { type HouseEvent, type HouseState, type LeftByMark, startHouse } from '../../src/house/state.ts'
import { type Ledger, startLedger } from '../../src/ledger/apply.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Reading } from '../../src/protocol/reading.ts'
import { parseRegister } from '../../src/register/parse.ts'
import type { Register } from '../../src/register/types.ts'
import { iso, MINUTE } from '../../src/text/time.ts'

export const START = Date.parse('2026-06-01T08:00:00.000Z')

const HOUSE = `
house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, keepAliveSeconds: 4, qos: 1 }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: 'Dye room', sender: coin }
  - { mark: W02, name: 'Loft', sender: coin }
  - { mark: D01, name: 'Yard door', kind: door, sender: yard }
`

const registerOf = (text: string): Register => {
  const { register, problems } = parseRegister(text)
  if (!register) throw new Error(JSON.stringify(problems))
  return register
}

/** As it was at first; one line taken out; taken as closed after a while; other rules of counting. */
export const REGISTERS: readonly Register[] = [
  HOUSE,
  HOUSE.replace("  - { mark: W02, name: 'Loft', sender: coin }\n", ''),
  HOUSE.replace('timezone:', 'takeAsClosedAfterMinutes: 5\ntimezone:'),
  HOUSE.replace('timezone:', 'bounceSeconds: 1\ntimezone:'),
].map(registerOf)

export type Act =
  /** A contact's word, or its last will. */
  | { readonly kind: 'word'; readonly topic: string; readonly text: string; readonly retain: boolean }
  /** `id` is unlike that of every other say. */
  | {
      readonly kind: 'say'
      readonly mark: string
      readonly say: Readonly<Record<string, unknown>> & { readonly id: string }
    }
  | { readonly kind: 'pass'; readonly seconds: number }
  /** Nobody listens for so long, and what was said meanwhile is lost; what the broker keeps comes again after it. */
  | { readonly kind: 'deaf'; readonly seconds: number }
  /** The link is lost for so long, in which nobody says anything; the broker keeps the session. */
  | { readonly kind: 'cut'; readonly seconds: number }
  /** The machine sleeps for so long, in which nobody says anything; the link outlives that. */
  | { readonly kind: 'sleep'; readonly seconds: number }
  /** Somebody sets the machine's clock; the shell finds out within a minute and a half. */
  | { readonly kind: 'clock'; readonly bySeconds: number }
  /**
   * The shell dies and starts again at once: nothing that came may be lost by that, nor counted twice. Its machine's
   * clock was set meanwhile.
   */
  | { readonly kind: 'restart'; readonly bySeconds: number }
  /** The disk, or what a shell keeps things in, refuses while this word comes, and is well again. */
  | { readonly kind: 'refusing'; readonly topic: string; readonly text: string }
  | { readonly kind: 'edit'; readonly register: number }

export interface Shell {
  /** Lets the act happen, and five seconds pass. */
  play(act: Act): Promise<void>
  /** Without the moment at which they were made. */
  readings(): readonly Omit<Reading, 'asOf'>[]
}

/** Seconds after every act: a forecast follows the words within this. */
export const AFTER_SECONDS = 5
/** What a start takes. */
export const START_SECONDS = 0.01
/** A shell looks at its clock this often from its start on, seconds. */
export const LOOK_SECONDS = 30
/** Seconds in which a shell has surely found out that its clock was set. */
export const FOUND_SECONDS = 90
/** Seconds in which a shell that was refused has surely tried again. */
export const WELL_SECONDS = 40

/** Milliseconds to the next look. @param running - since the start of the shell */
export const lookAfter = (running: number): number => LOOK_SECONDS * 1000 - (running % (LOOK_SECONDS * 1000))

/** What every cell has left, in a house of cells that give three sends: hangs on the tally alone. */
export const threeSends = ({ marks }: Ledger): LeftByMark =>
  Object.fromEntries(
    Object.entries(marks).map(([mark, { fold }]) => {
      const next = fold.sends < 3 ? 0.95 : 0.5
      return [mark, { p05: 0, p50: 1, p95: 3, next, restsOn: { source: 'house', cells: 1, deaths: 1 } }]
    }),
  )

/** Each shell finds out at another moment that its clock was set: that there is a latest time is what they share. */
const SOME_TIME = 'some time'

export const withoutMoment = (readings: Iterable<Reading>): readonly Omit<Reading, 'asOf'>[] =>
  [...readings].map(({ asOf: _, sinceUntil, last, ...reading }) => ({
    ...reading,
    ...(sinceUntil === undefined ? {} : { sinceUntil: SOME_TIME }),
    ...(last === undefined ? {} : { last: last.until === undefined ? last : { ...last, until: SOME_TIME } }),
  }))

/** The machine itself, with nothing that can fail. */
export class BareShell implements Shell {
  /** Until when the shell to come is known to have listened, by its clock; NaN: nobody knows. Default: until now. */
  lastKnown: number | undefined
  /** The last time that the shell to come knows. Default: the same. */
  lastTime: number | undefined
  #state: HouseState = startHouse(startLedger({}, iso(START)))
  #elapsed = 0
  #isOff = false
  /** The machine's clock less `#elapsed`. */
  #apart = START
  #clock = watchClock(this.#clocks)
  #startedAt = 0
  readonly #kept: Entry[] = []
  readonly #retained = new Map<string, string>()
  #register = REGISTERS[0]!
  #liveSince = 0
  #ids = 0

  readonly #isTablet: boolean

  /** @param isTablet - no broker keeps what it misses; a step of its clock may be a sleep: it makes its link anew */
  constructor({ isTablet = false } = {}) {
    this.#isTablet = isTablet
    this.#begin(this.#state)
    this.#live({ kind: 'missed', id: this.#id(), now: this.#now })
    this.#pass(START_SECONDS)
  }

  async play(act: Act): Promise<void> {
    switch (act.kind) {
      case 'word':
        if (act.retain) this.#retained.set(act.topic, act.text)
        this.#word(act.topic, act.text)
        break
      case 'say':
        this.#word(`ropewalk/tally/say/${act.mark}`, JSON.stringify({ v: 1, ...act.say }))
        break
      case 'pass':
        this.#pass(act.seconds)
        break
      case 'deaf':
        this.#passOff(act.seconds)
        this.#live({ kind: 'missed', id: this.#id(), now: this.#now })
        break
      case 'cut': {
        const from = this.#now
        this.#passOff(act.seconds)
        const missed = this.#isTablet ? {} : { queued: true, from }
        this.#live({ kind: 'missed', ...missed, id: this.#id(), now: this.#now })
        break
      }
      case 'sleep':
        // A tablet's other clock sleeps too.
        if (this.#isTablet) return this.play({ kind: 'clock', bySeconds: act.seconds })
        this.#elapsed += act.seconds * 1000
        // The looks at the clock sleep too.
        this.#startedAt += act.seconds * 1000
        this.#pass(FOUND_SECONDS)
        break
      case 'clock': {
        this.#apart += act.bySeconds * 1000
        if (this.#isTablet) this.#look()
        this.#pass(FOUND_SECONDS)
        break
      }
      case 'restart': {
        const from = this.lastKnown ?? this.#now
        this.#apart += act.bySeconds * 1000
        this.#clock = watchClock(this.#clocks, this.lastTime ?? from)
        this.#startedAt = this.#elapsed
        this.#begin(startHouse(this.#state.ledger, this.#state.topics, this.#state.deaf))
        const known = from <= this.#now + MINUTE || this.#isTablet ? { from } : {}
        this.#live({ kind: 'missed', queued: !this.#isTablet, ...known, id: this.#id(), now: this.#now })
        this.#pass(START_SECONDS)
        break
      }
      case 'refusing':
        this.#word(act.topic, act.text)
        this.#pass(WELL_SECONDS)
        break
      case 'edit':
        this.#adopt(REGISTERS[act.register]!)
    }
    this.#pass(AFTER_SECONDS)
  }

  readings(): readonly Omit<Reading, 'asOf'>[] {
    return withoutMoment(this.#state.readings.values())
  }

  get #clocks(): Clocks {
    return { now: this.#apart + this.#elapsed, elapsed: this.#elapsed }
  }

  get #now(): number {
    return checkedNow(this.#clock, this.#clocks)
  }

  /** A shell begins. The machine began with the acts; a tablet knows of its page alone. */
  #begin(state: HouseState): void {
    const began = this.#apart + (this.#isTablet ? this.#elapsed : 0)
    this.#state = { ...state, clockFrom: doubtfulFrom(this.#clock, this.#clocks, began) }
    this.#adopt(this.#register)
    this.#tellClock(0)
  }

  #look(): void {
    const { isWrong } = this.#clock
    const { clock, stepMilliseconds } = lookAt(this.#clock, this.#clocks)
    this.#clock = clock
    if (stepMilliseconds === 0 && clock.isWrong === isWrong) return
    const isSleep = this.#isTablet && stepMilliseconds > 0 && !isWrong
    if (!isSleep) this.#tellClock(stepMilliseconds)
    if (this.#isTablet && stepMilliseconds !== 0 && !this.#isOff)
      this.#live({ kind: 'missed', id: this.#id(), now: this.#now })
  }

  #tellClock(stepMilliseconds: number): void {
    const { isWrong } = this.#clock
    this.#play({ kind: 'clock', stepMilliseconds, isWrong, id: this.#id(), now: this.#now })
  }

  #id = (): string => `bare-${++this.#ids}`

  #play(event: HouseEvent): void {
    const { state, effects } = step(this.#state, event)
    this.#state = state
    for (const effect of effects) if (effect.kind === 'keep') this.#kept.push(...effect.entries)
    if (effects.some(({ kind }) => kind === 'forecast')) {
      this.#play({ kind: 'forecast', left: threeSends(this.#state.ledger), id: this.#id(), now: this.#now })
    }
  }

  #adopt(register: Register): void {
    const before = new Set(this.#register.openings.map(({ topic }) => topic))
    this.#register = register
    this.#play({ kind: 'register', register, policies: policyOf(register), id: this.#id(), now: this.#now })
    for (const { topic } of register.openings) if (!before.has(topic)) this.#copy(topic)
  }

  /** The link comes up, after a time of which `missed` tells; what the broker keeps comes with it. */
  #live(missed: HouseEvent): void {
    this.#play(missed)
    this.#liveSince = this.#elapsed
    for (const { topic } of this.#register.openings) this.#copy(topic)
  }

  #copy(topic: string): void {
    const text = this.#retained.get(topic)
    if (text !== undefined) this.#word(topic, text, true)
  }

  #word(topic: string, text: string, retain = false): void {
    const message = { topic, payload: new TextEncoder().encode(text), retain, dup: false, qos: 1 as const }
    const arrival = {
      at: iso(this.#now),
      linkLiveSeconds: Math.round(this.#elapsed - this.#liveSince) / 1000,
    }
    const words = [{ id: this.#id(), message, arrival }]
    const says = { hear: hearSay, find: (id: string) => this.#kept.find(each => each.id === id) }
    this.#play({ kind: 'words', words, now: this.#now, says })
  }

  /** Time goes on, and the broker cannot be reached. */
  #passOff(seconds: number): void {
    this.#isOff = true
    this.#pass(seconds)
    this.#isOff = false
  }

  /** Time goes on, with a stop wherever something changes by itself. */
  #pass(seconds: number): void {
    const end = this.#elapsed + seconds * 1000
    for (;;) {
      const lookIn = lookAfter(this.#elapsed - this.#startedAt)
      const wait = Math.min(Math.max(0, this.#state.wakeAt - this.#now), lookIn)
      if (this.#elapsed + wait > end) break
      this.#elapsed += wait
      if (wait === lookIn) this.#look()
      this.#play({ kind: 'time', now: this.#now })
    }
    this.#elapsed = end
    this.#play({ kind: 'time', now: this.#now })
  }
}

const COIN = fc.constantFrom('ropewalk/w01', 'ropewalk/w02')
const aWord: fc.Arbitrary<Extract<Act, { kind: 'word' }>> = fc.oneof(
  fc.record({
    kind: fc.constant('word' as const),
    topic: COIN,
    text: fc.constant('opened'),
    retain: fc.constant(false),
  }),
  fc.record({
    kind: fc.constant('word' as const),
    topic: COIN,
    text: fc.constant('asleep'),
    retain: fc.constant(true),
  }),
  fc.record({
    kind: fc.constant('word' as const),
    topic: fc.constant('ropewalk/d01'),
    text: fc.constantFrom('ajar', 'shut', 'lost', 'nonsense'),
    retain: fc.constant(true),
  }),
)
const aMark = fc.constantFrom('W01', 'W02', 'D01')
const aSaying = fc.constantFrom<Readonly<Record<string, unknown>>>(
  { what: 'seen-closed' },
  { what: 'seen-closed' },
  { what: 'cell-fitted', cell: { type: 'CR2032' } },
  { what: 'failed' },
  { what: 'proved' },
  { what: 'note', note: 'new putty' },
  { what: 'seen-closed', at: '2026-06-01T08:30:00.000Z' },
  { what: 'undone' },
  { what: 'on-test', until: '2026-06-01T10:00:00.000Z' },
)
/** From seconds, in which a word and its rest word stand, to a day. */
const someSeconds = fc.oneof(fc.integer({ min: 1, max: 30 }), fc.integer({ min: 60, max: 7_200 }), fc.constant(86_400))

/** Days of a house: words, looks, and everything that fails. */
export const someActs: fc.Arbitrary<readonly Act[]> = fc
  .array(
    fc.oneof(
      { arbitrary: aWord, weight: 6 },
      { arbitrary: fc.record({ kind: fc.constant('say' as const), mark: aMark, say: aSaying }), weight: 4 },
      { arbitrary: fc.record({ kind: fc.constant('pass' as const), seconds: someSeconds }), weight: 3 },
      { arbitrary: fc.record({ kind: fc.constant('deaf' as const), seconds: someSeconds }), weight: 1 },
      { arbitrary: fc.record({ kind: fc.constant('cut' as const), seconds: someSeconds }), weight: 1 },
      { arbitrary: fc.record({ kind: fc.constant('sleep' as const), seconds: someSeconds }), weight: 1 },
      {
        arbitrary: fc.record({
          kind: fc.constant('clock' as const),
          bySeconds: fc.constantFrom(-7_200, -60, 60, 7_200),
        }),
        weight: 1,
      },
      {
        arbitrary: fc.record({
          kind: fc.constant('restart' as const),
          bySeconds: fc.constantFrom(0, 0, 0, -10_800, -7_200, -60, 60, 7_200),
        }),
        weight: 1,
      },
      {
        arbitrary: aWord.map(({ topic, text }) => ({ kind: 'refusing' as const, topic, text })),
        weight: 1,
      },
      {
        arbitrary: fc.record({ kind: fc.constant('edit' as const), register: fc.nat(REGISTERS.length - 1) }),
        weight: 1,
      },
    ),
    { minLength: 5, maxLength: 40 },
  )
  .map(acts => {
    let last = 'nothing'
    return acts.map((act, index): Act => {
      if (act.kind !== 'say') return act
      const id = `say-${index}`
      const undoes = act.say.what === 'undone' ? { undoes: last } : {}
      last = id
      return { ...act, say: { ...act.say, id, ...undoes } }
    })
  })
