import fc from 'fast-check'
import { expect, test } from 'vitest'
import { isSurelyShut } from '../../src/ledger/headline.ts'
import type { Register } from '../../src/register/types.ts'
import {
  type Act,
  AFTER_SECONDS,
  BareShell,
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

/** Longest step of the clock that is no sleep, milliseconds. */
const STEP = 80_000

/** A tablet without a keeper. */
class CardShell implements Shell {
  readonly #card = new Played()
  readonly #retained = new Map<string, string>()
  #register = REGISTERS[0]!

  constructor() {
    this.#card.now = START
    this.#card.play({ kind: 'joined' })
    this.#take(this.#register)
    const nothing = { ledger: undefined, late: [], topics: undefined, listened: undefined }
    this.#card.play({ kind: 'loaded', loaded: { ...nothing, isKept: true, writes: true } })
    this.#live()
    this.#pass(START_SECONDS)
  }

  async play(act: Act): Promise<void> {
    switch (act.kind) {
      case 'word':
        if (act.retain) this.#retained.set(act.topic, act.text)
        this.#hear(act.topic, act.text)
        break
      case 'say':
        this.#say(act.mark, act.say.what as 'seen-closed')
        break
      case 'pass':
        this.#pass(act.seconds)
        break
      case 'deaf':
        this.#card.down()
        this.#pass(act.seconds)
        this.#live()
        break
      case 'refusing':
        this.#card.play({ kind: 'kept', ok: false })
        this.#hear(act.topic, act.text)
        this.#pass(WELL_SECONDS)
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
    this.#forecast()
  }

  #live(): void {
    this.#card.live()
    this.#forecast()
    for (const { topic } of this.#register.openings) this.#copy(topic)
  }

  #copy(topic: string): void {
    const text = this.#retained.get(topic)
    if (text !== undefined) this.#hear(topic, text, true)
  }

  #hear(topic: string, text: string, retain = false): void {
    this.#card.hear([topic, text, retain])
    this.#forecast()
  }

  #say(mark: string, what: 'seen-closed' | 'cell-fitted' | 'failed'): void {
    // What the register has not has no row to press on.
    if (!this.#register.openings.some(opening => opening.mark === mark)) return
    this.#card.play({ kind: 'say', what, marks: [mark] })
    this.#forecast()
  }

  #pass(seconds: number): void {
    const card = this.#card
    const end = card.now + seconds * 1000
    while (card.now < end) {
      const { wakeAt } = card.state.tally.counted!
      card.now = Math.min(end, card.now + STEP, Math.max(card.now + 1, wakeAt))
      card.play({ kind: 'tick', mayTurn: false })
      this.#forecast()
    }
  }

  /** What the effect asks for, at once. */
  #forecast(): void {
    for (;;) {
      const asked = this.#card.effects.splice(0).some(({ kind }) => kind === 'forecast')
      if (!asked) return
      this.#card.play({ kind: 'forecast', left: threeSends(this.#card.state.tally.counted!.ledger) })
    }
  }
}

/** What a wall can do: its people look, fit cells and say what failed; a reload is another test's. */
const canHappen = (act: Act): boolean => {
  if (act.kind === 'restart') return false
  if (act.kind !== 'say') return true
  if (act.say.at !== undefined) return false
  return act.say.what === 'seen-closed' || (act.mark !== 'D01' && ['cell-fitted', 'failed'].includes(`${act.say.what}`))
}

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

test('the tablet reads a house as the bare machine does', { timeout: 300_000 }, async () => {
  await fc.assert(
    fc.asyncProperty(someActs, async acts => {
      const [card, bare] = [new CardShell(), new BareShell()]
      for (const act of acts.filter(canHappen)) {
        await card.play(act)
        await bare.play(act)
        expect(comparable(card.readings())).toEqual(comparable(bare.readings()))
      }
    }),
    { numRuns: Number(process.env.SASHTALLY_RUNS ?? 25) },
  )
})
