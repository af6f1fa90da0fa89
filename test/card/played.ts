/** A card without a page: its events are played into `reduce`, what follows is noted. */
import { reduce } from '../../src/card/reduce/reduce.ts'
import { type Moment, momentBy } from '../../src/card/state/clock.ts'
import type { CardEffect } from '../../src/card/state/effect.ts'
import type { CardEvent, Loaded } from '../../src/card/state/event.ts'
import { type CardState, startState } from '../../src/card/state/state.ts'
import type { Heard } from '../../src/protocol/feed.ts'
import { parseRegister } from '../../src/register/parse.ts'

export const NOW = Date.parse('2026-11-25T21:47:00.000Z')

export const REGISTER = `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { websocket: 'ws://127.0.0.1:9001' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: 'Dye room, west sash', sender: coin }
  - { mark: W02, name: 'Dye room, south', sender: coin }
  - { mark: D01, name: Street door, kind: door, sender: yard }
`

export const NOTHING_KEPT: Loaded = {
  ledger: undefined,
  entries: [],
  since: undefined,
  isKept: true,
  writes: true,
  late: [],
  topics: undefined,
  deaf: undefined,
  listened: undefined,
}

export class Played {
  /** What the ids of its events begin with: unlike that of every other page that lives on from it. */
  page = 'e'
  state: CardState = startState
  now = NOW
  /** By how much the tablet's clock was set. */
  set = 0
  /** What this tablet keeps by name. */
  readonly memory = new Map<string, string>()
  readonly effects: CardEffect[] = []
  #events = 0

  get moment(): Moment {
    return momentBy(this.state.clock, { now: this.now, elapsed: this.now - this.set })
  }

  /** Somebody sets the tablet's clock. */
  setBy(milliseconds: number): void {
    this.now += milliseconds
    this.set += milliseconds
  }

  play(event: CardEvent): readonly CardEffect[] {
    const stamp = { ...this.moment, id: `${this.page}${this.#events++}` }
    const { state, effects } = reduce(this.state, event, stamp)
    this.state = state
    this.effects.push(...effects)
    for (const effect of effects) {
      if (effect.kind === 'remember' && !effect.inPage) {
        if (effect.text === undefined) this.memory.delete(effect.name)
        else this.memory.set(effect.name, effect.text)
      }
      if (effect.kind === 'recall') {
        const { tally, house } = effect
        const memory = {
          listened: this.memory.get(`sashtally heard ${tally}`),
          keeper: this.memory.get(`sashtally keeper ${house}`),
          walk: undefined,
          report: undefined,
        }
        this.play({ kind: 'recalled', tally, house, memory })
      }
    }
    return effects
  }

  /** In the page, with a register, its store read, its link live. */
  begin(loaded: Partial<Loaded> = {}, register = REGISTER): void {
    this.play({ kind: 'joined' })
    this.read(register)
    this.play({ kind: 'loaded', loaded: { ...NOTHING_KEPT, ...loaded } })
    this.live()
  }

  read(text: string): void {
    const { register } = parseRegister(text)
    this.play({ kind: 'register', found: { state: 'read', register: register! }, url: '' })
  }

  live(): void {
    this.play({ kind: 'link', standing: { state: 'live', since: this.now, sessionPresent: false } })
  }

  down(): void {
    this.play({ kind: 'link', standing: { state: 'down', since: this.now } })
  }

  hear(...words: readonly (readonly [topic: string, text: string, retain?: boolean])[]): void {
    this.play({
      kind: 'heard',
      words: words.map(([topic, text, retain = false]) => {
        const payload = new TextEncoder().encode(text)
        const message: Heard = { topic, payload, retain, dup: false, qos: 1 }
        return { message, ...this.moment }
      }),
    })
  }

  /** Lets time pass, second by second where it is short. */
  pass(milliseconds: number): void {
    for (let left = milliseconds; left > 0; left -= 60_000) {
      this.now += Math.min(left, 60_000)
      this.play({ kind: 'tick', mayTurn: false })
    }
  }

  of<Kind extends CardEffect['kind']>(kind: Kind): readonly Extract<CardEffect, { kind: Kind }>[] {
    return this.effects.filter((effect): effect is Extract<CardEffect, { kind: Kind }> => effect.kind === kind)
  }

  reading = (mark: string) => this.state.tally.counted?.readings.get(mark)
}
