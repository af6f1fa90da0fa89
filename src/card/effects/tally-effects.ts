import { withModelSends } from '../../house/policy.ts'
import { fitting } from '../../protocol/fitting.ts'
import { messageOf } from '../../text/message-of.ts'
import type { TallyEffect } from '../state/effect.ts'
import type { CardEvent } from '../state/event.ts'
import type { CardState } from '../state/state.ts'
import type { CardWorld } from '../world.ts'
import { Commits } from './commits.ts'
import { forecastSchema } from './forecast-answer.ts'
import { Forecasts } from './forecasts.ts'
import type { Handlers } from './handlers.ts'
import { inTime } from './in-time.ts'
import { inTurns } from './in-turns.ts'
import { recallDeaf, recallListened, recallTopics, takeLate } from './memory.ts'
import { TabStore } from './tab-store.ts'

/** A file that has not come by then is missing; a later one is taken all the same, at the next forecast. */
const FILE_MILLISECONDS = 30_000

/** What has to do with this tablet's own tally: its store, the pages that share it, its forecasts. */
export class TallyEffects {
  readonly #state: () => CardState
  readonly #world: () => CardWorld
  readonly #dispatch: (event: CardEvent) => void
  readonly #store: TabStore
  readonly #commits: Commits
  readonly #forecasts: Forecasts

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
    this.#forecasts = new Forecasts(() => this.#forecast().catch(this.#noForecast))
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
    const { forecastHouse } = await inTime(import('./forecast-file.ts'), 'the file', FILE_MILLISECONDS)
    const started = this.#state().tally.counted
    if (!started?.register) return
    const given = await inTurns(forecastHouse(started.register, started.ledger, this.#world().now()))
    const forecast = fitting(forecastSchema, given)
    if (!forecast) throw new Error('the file is of another version than the card')
    const { counted, forecasts } = this.#state().tally
    // Of another register it would say nothing.
    if (counted?.register !== started.register) return
    const { left, modelSends } = forecast
    const isModelled = isSame(withModelSends(counted.ledger.policy, modelSends), counted.ledger.policy)
    if (forecasts && isModelled && counted.unforecast.size === 0 && isSame(left, counted.left)) return
    const madeFrom = started.ledger
    this.#dispatch({ kind: 'forecast', left, madeFrom, ...(isModelled ? {} : { modelSends }) })
  }

  /** The sheet says that there is none; who put up the page can mend it, and reads the console. */
  readonly #noForecast = (error: unknown) => {
    const isKnown = !this.#state().tally.forecasts
    // What was heard since the last try is not forecast either.
    this.#dispatch({ kind: 'no-forecast' })
    if (isKnown) return
    const file = 'sash-tally-forecast.js, which belongs beside sash-tally.js'
    reportError(new Error(`no forecasts: something is wrong with ${file}: ${messageOf(error)}`))
  }
}

const isSame = (one: unknown, other: unknown): boolean => JSON.stringify(one) === JSON.stringify(other)
