import fc from 'fast-check'
import { expect, test } from 'vitest'
import type { Loaded } from '../../src/card/state/event.ts'
import { topicsIn } from '../../src/card/state/kept.ts'
import { parseDeaf } from '../../src/house/deaf.ts'
import type { Ledger } from '../../src/ledger/apply.ts'
import { isSurelyShut } from '../../src/ledger/headline.ts'
import { judgeSay } from '../../src/ledger/judge-say.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import type { Register } from '../../src/register/types.ts'
import {
  type Act,
  AFTER_SECONDS,
  BareShell,
  FOUND_SECONDS,
  lookAfter,
  REGISTERS,
  type Shell,
  START,
  START_SECONDS,
  someActs,
  threeSends,
  WELL_SECONDS,
  withoutMoment,
} from '../house/shells.ts'
import { Played } from './played.ts'

type Say = Extract<Act, { kind: 'say' }>

/** A tablet without a keeper. */
class CardShell implements Shell {
  #card = new Played()
  readonly #retained = new Map<string, string>()
  /** The broker cannot be reached. */
  #isOff = false
  /** When the page began, by the clock that nobody sets. */
  #began = 0
  #register = REGISTERS[0]!

  #pages = 0
  /** Ids of what was pressed, by those that the acts have for them. */
  readonly #pressed = new Map<string, string>()

  constructor() {
    this.#card.now = START
    this.#start()
  }

  async play(act: Act): Promise<void> {
    switch (act.kind) {
      case 'word':
        if (act.retain) this.#retained.set(act.topic, act.text)
        this.#hear(act.topic, act.text)
        break
      case 'say':
        this.#say(act)
        break
      case 'pass':
        this.#pass(act.seconds)
        break
      // It has no session at the broker.
      case 'cut':
      case 'deaf':
        this.#isOff = true
        this.#card.down()
        this.#pass(act.seconds)
        this.#isOff = false
        this.#live()
        break
      case 'refusing':
        this.#card.play({ kind: 'kept', ok: false })
        this.#hear(act.topic, act.text)
        this.#pass(WELL_SECONDS)
        break
      case 'clock':
        this.#setClock(act.bySeconds * 1000)
        break
      case 'sleep':
        this.#setClock(act.seconds * 1000)
        break
      case 'restart':
        this.#reload(act.bySeconds * 1000)
        break
      case 'edit': {
        const before = new Set(this.#register.openings.map(({ topic }) => topic))
        this.#take(REGISTERS[act.register]!)
        for (const { topic } of this.#register.openings) if (!before.has(topic)) this.#copy(topic)
      }
    }
    this.#pass(AFTER_SECONDS)
  }

  readings() {
    return withoutMoment(this.#card.state.tally.counted!.readings.values())
  }

  #take(register: Register): void {
    this.#register = register
    this.#card.play({ kind: 'register', found: { state: 'read', register }, url: '' })
    this.#carryOut()
  }

  #live(): void {
    this.#card.live()
    this.#carryOut()
    for (const { topic } of this.#register.openings) this.#copy(topic)
  }

  /** Found at the next look, a moment later. */
  #setClock(milliseconds: number): void {
    this.#card.setBy(milliseconds)
    this.#tick()
    this.#pass(FOUND_SECONDS)
  }

  #copy(topic: string): void {
    const text = this.#retained.get(topic)
    if (text !== undefined) this.#hear(topic, text, true)
  }

  #hear(topic: string, text: string, retain = false): void {
    this.#card.hear([topic, text, retain])
    this.#carryOut()
  }

  /** The page is opened: what was kept is read, then the link comes up. */
  #start(kept: Partial<Loaded> = {}): void {
    this.#began = this.#card.moment.elapsed
    this.#card.play({ kind: 'joined' })
    this.#take(this.#register)
    this.#load(kept)
    this.#live()
    this.#pass(START_SECONDS)
  }

  #load(kept: Partial<Loaded>): void {
    const nothing = {
      ledger: undefined,
      entries: [],
      since: undefined,
      late: [],
      topics: undefined,
      deaf: undefined,
      listened: undefined,
    }
    this.#card.play({ kind: 'loaded', loaded: { ...nothing, isKept: true, writes: true, ...kept } })
    this.#carryOut()
  }

  /** The page ends, and another takes its place: all that it has is what the first one kept. */
  #reload(milliseconds: number): void {
    const before = this.#card
    before.play({ kind: 'leaving' })
    const kept = this.#kept()
    this.#card = new Played()
    this.#card.now = before.now
    this.#card.set = before.set
    this.#card.setBy(milliseconds)
    this.#card.page = `e${++this.#pages}-`
    for (const [name, text] of before.memory) this.#card.memory.set(name, text)
    this.#start(kept)
  }

  #kept(late: readonly Entry[] = []): Partial<Loaded> {
    const { ledger } = this.#card.state.tally.counted!
    const { memory } = this.#card
    const topics = topicsIn(memory.get('sashtally topics ropewalk/tally'))
    const deaf = parseDeaf(memory.get('sashtally deaf ropewalk/tally') ?? '')
    return {
      ledger: JSON.parse(JSON.stringify(ledger)) as Ledger,
      late,
      topics,
      deaf,
      listened: String(this.#card.moment.now),
    }
  }

  #say({ mark, say }: Say): void {
    // What the register has not has no row to press on.
    if (!this.#register.openings.some(opening => opening.mark === mark)) return
    if (hasButton(mark, say)) {
      this.#card.play({ kind: 'say', what: say.what as 'seen-closed', marks: [mark] })
      this.#pressed.set(say.id, this.#card.state.deeds.last!.said[0]!.id)
    } else this.#sayElsewhere(mark, say)
    this.#carryOut()
  }

  /** On another page, which had not kept it when it ended; taken back in the row above it while that stands. */
  #sayElsewhere(mark: string, say: Say['say']): void {
    const { deeds, tally } = this.#card.state
    const undoes = say.undoes === undefined ? undefined : (this.#pressed.get(`${say.undoes}`) ?? `${say.undoes}`)
    const deed = [deeds.last, ...deeds.earlier].find(
      each => each?.state === 'noted' && each.said.some(said => said.id === undoes && said.mark === mark),
    )
    if (deed) {
      this.#card.play({ kind: 'undo', deed })
      const undone = this.#card.state.tally.counted!.ledger.marks[mark]!.window.findLast(
        ({ entry }) => entry.what === 'undone' && entry.undoes === undoes,
      )
      this.#pressed.set(`${say.id}`, undone!.entry.id)
      return
    }
    const { ledger } = tally.counted!
    const { now } = this.#card.moment
    const find = (id: string) =>
      Object.values(ledger.marks)
        .flatMap(({ window }) => window)
        .find(({ entry }) => entry.id === id)?.entry
    const text = JSON.stringify({ v: 1, ...say, ...(undoes === undefined ? {} : { undoes }) })
    const arrival = { retain: false, at: new Date(now).toISOString() }
    const judged = judgeSay(text, mark, arrival, { ledger, policy: ledger.policy, now, find })
    if (!('entry' in judged)) return
    this.#card.play({ kind: 'reading', writes: true })
    this.#load(this.#kept([judged.entry]))
  }

  #pass(seconds: number): void {
    const card = this.#card
    for (let left = seconds * 1000; left > 0; ) {
      const wake = card.state.tally.counted!.wakeAt - card.moment.now
      const wait = Math.min(left, Math.max(1, wake), lookAfter(card.moment.elapsed - this.#began))
      card.now += wait
      left -= wait
      this.#tick()
    }
  }

  #tick(): void {
    this.#card.play({ kind: 'tick', mayTurn: false })
    this.#carryOut()
  }

  /** What the effects ask for, at once. */
  #carryOut(): void {
    for (;;) {
      const asked = this.#card.effects.splice(0).map(({ kind }) => kind)
      if (asked.includes('forecast'))
        this.#card.play({ kind: 'forecast', left: threeSends(this.#card.state.tally.counted!.ledger) })
      if (asked.includes('redial') && !this.#isOff) {
        this.#card.down()
        this.#live()
      } else if (!asked.includes('forecast')) return
    }
  }
}

/** What can be pressed on a wall: its people look, fit cells and say what failed. */
const hasButton = (mark: string, { at, what }: Say['say']): boolean =>
  at === undefined && (what === 'seen-closed' || (mark !== 'D01' && ['cell-fitted', 'failed'].includes(`${what}`)))

/**
 * A door's kept word that tells nothing new is no entry on a tablet: its last word is an older one there, and a kept last
 * will leaves it silent, which is as little certain as unheard.
 */
const comparable = (readings: ReturnType<Shell['readings']>) =>
  readings.map(({ last: _, unheard, ...reading }) => ({
    ...reading,
    isUnheard: unheard !== undefined || reading.doubts.includes('silent'),
    isShut: isSurelyShut({ ...reading, ...(unheard === undefined ? {} : { unheard }) }),
  }))

const door = (text: string): Act => ({ kind: 'word', topic: 'ropewalk/d01', text, retain: true })
const later: Act = { kind: 'pass', seconds: 60 }

/** Each showed a door as shut that may have been opened unheard. */
const FOUND: [readonly Act[]][] = [
  // Another page's word was read while the door's kept word was waited for.
  [
    [
      door('shut'),
      door('nonsense'),
      { kind: 'deaf', seconds: 600 },
      { kind: 'say', mark: 'W01', say: { what: 'note', note: 'new putty', id: 'say-3' } },
      later,
    ],
  ],
  // The door was heard at a time that lies ahead since the clock was set back.
  [[{ kind: 'refusing', topic: 'ropewalk/d01', text: 'shut' }, { kind: 'clock', bySeconds: -7_200 }, later]],
  // The note was written in its place: before the word that it doubts.
  [[door('shut'), door('nonsense'), { kind: 'deaf', seconds: 60 }, { kind: 'clock', bySeconds: -7_200 }, later]],
]

test('the tablet reads a house as the bare machine does', { timeout: 300_000 }, async () => {
  await fc.assert(
    fc.asyncProperty(someActs, async acts => {
      const [card, bare] = [new CardShell(), new BareShell({ isTablet: true })]
      for (const act of acts) {
        await card.play(act)
        await bare.play(act)
        expect(comparable(card.readings())).toEqual(comparable(bare.readings()))
      }
    }),
    { numRuns: Number(process.env.SASHTALLY_RUNS ?? 25), examples: FOUND },
  )
})
