import type { Heard } from '../protocol/feed.ts'
import { freshId } from './effects/id.ts'
import { reduce } from './reduce/reduce.ts'
import { type Moment, momentBy } from './state/clock.ts'
import type { CardEffect } from './state/effect.ts'
import type { CardEvent } from './state/event.ts'
import { type CardState, startState } from './state/state.ts'
import type { HeardWord } from './state/tally.ts'
import type { CardWorld } from './world.ts'

/**
 * The events of one card, one after the other: each makes the next state, then what follows from it is carried out.
 * What is told meanwhile comes next. Messages are gathered, and counted before any other event and before a drawing.
 */
export class Loop {
  readonly #world: () => CardWorld
  readonly #changed: () => void
  #state = startState
  readonly #events: CardEvent[] = []
  #gathered: HeardWord[] = []
  #carryOut: ((effect: CardEffect) => void) | undefined
  #isBusy = false

  /** @param changed - the state is another, or a message waits */
  constructor(world: () => CardWorld, changed: () => void) {
    this.#world = world
    this.#changed = changed
  }

  get state(): CardState {
    return this.#state
  }

  /** By the tablet's clock, as far as that can be right. */
  get moment(): Moment {
    const world = this.#world()
    return momentBy(this.#state.clock, { now: world.now(), elapsed: world.elapsed() })
  }

  /** What was told before is done now. */
  start(carryOut: (effect: CardEffect) => void): void {
    this.#carryOut = carryOut
    this.#run()
  }

  readonly gather = (message: Heard): void => {
    this.#gathered.push({ message, ...this.moment })
    this.#changed()
  }

  /** Counts the messages that wait. */
  count(): void {
    if (this.#gathered.length === 0) return
    this.#events.push({ kind: 'heard', words: this.#gathered })
    this.#gathered = []
    this.#run()
  }

  readonly dispatch = (event: CardEvent): void => {
    this.count()
    this.#events.push(event)
    this.#run()
  }

  #run(): void {
    const carryOut = this.#carryOut
    if (this.#isBusy || !carryOut) return
    this.#isBusy = true
    try {
      for (let event = this.#events.shift(); event; event = this.#events.shift()) {
        const stamp = { ...this.moment, id: freshId() }
        const { state, effects } = reduce(this.#state, event, stamp)
        this.#state = state
        for (const effect of effects) carryOut(effect)
      }
    } finally {
      this.#isBusy = false
    }
    this.#changed()
  }
}
