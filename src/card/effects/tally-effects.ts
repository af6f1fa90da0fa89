import { messageOf } from '../../text/message-of.ts'
import type { TallyEffect } from '../state/effect.ts'
import type { CardEvent } from '../state/event.ts'
import type { CardState } from '../state/state.ts'
import type { CardWorld } from '../world.ts'
import { Commits } from './commits.ts'
import { Forecasts } from './forecasts.ts'
import type { Handlers } from './handlers.ts'
import { inTurns } from './in-turns.ts'
import { recallDeaf, recallListened, recallTopics, takeLate } from './memory.ts'
import { TabStore } from './tab-store.ts'

/** What has to do with this tablet's own tally: its store, the pages that share it, its forecasts. */
export class TallyEffects {
  readonly #state: () => CardState
  readonly #world: () => CardWorld
  readonly #dispatch: (event: CardEvent) => void
  readonly #store: TabStore
  readonly #commits: Commits
  readonly #forecasts: Forecasts
  #isToldMissing = false

  constructor(world: () => CardWorld, state: () => CardState, dispatch: (event: CardEvent) => void) {
    this.#state = state
    this.#world = world
    this.#dispatch = dispatch
    this.#store = new TabStore(world, {
      reading: writes => dispatch({ kind: 'reading', writes }),
      read: (name, read) => {
        const late = read.isKept && read.writes ? takeLate(name) : []
        const [topics, deaf, listened] = [recallTopics(name), recallDeaf(name), recallListened(name)]
        dispatch({ kind: 'loaded', loaded: { ...read, late, topics, deaf, listened } })
      },
      said: entry => dispatch({ kind: 'noted-elsewhere', entry }),
    })
    this.#commits = new Commits(
      this.#store.target,
      () => world().elapsed(),
      ok => dispatch({ kind: 'kept', ok }),
    )
    this.#forecasts = new Forecasts(() => this.#forecast())
  }

  readonly handlers: Handlers<TallyEffect> = {
    'open-tally': ({ name }) => this.#store.open(name),
    'shut-tally': () => {
      this.#forecasts.stop()
      this.#store.shut(this.#commits.now())
      this.#commits.forget()
    },
    keep: ({ entries, ledger, when }) => {
      this.#commits.wait(entries, ledger)
      if (when === 'soon') this.#commits.soon()
      else void this.#commits.now()
    },
    'keep-begun': ({ ledger }) => this.#commits.keepBegun(ledger),
    'forget-waiting': () => this.#commits.forget(),
    'save-waiting': () => this.#commits.save(),
    'keep-waiting': () => void this.#commits.now(),
    'tell-pages': ({ entry }) => this.#store.tell(entry),
    forecast: ({ when }) => this.#forecasts.ask(when),
  }

  async #forecast(): Promise<void> {
    const file = await import('./forecast-file.ts').catch(this.#missing)
    const started = this.#state().tally.counted
    if (!file || !started?.register) return
    const { left, policies } = await inTurns(file.forecastHouse(started.register, started.ledger, this.#world().now()))
    const { counted } = this.#state().tally
    // Of another register it would say nothing.
    if (counted?.register !== started.register) return
    const isRuled = isSame(policies, counted.ledger.policy)
    if (isRuled && isSame(left, counted.left)) return
    this.#dispatch({ kind: 'forecast', left, ...(isRuled ? {} : { policies }) })
  }

  /** Who put up the page can mend this, and reads the console: the sheet tells what was sent. */
  readonly #missing = (error: unknown) => {
    if (this.#isToldMissing) return
    this.#isToldMissing = true
    const why = messageOf(error)
    reportError(new Error(`no forecasts: sash-tally-forecast.js could not be loaded from beside sash-tally.js: ${why}`))
  }
}

const isSame = (one: unknown, other: unknown): boolean => JSON.stringify(one) === JSON.stringify(other)
