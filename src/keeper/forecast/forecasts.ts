import type { LeftByMark } from '../../house/state.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { messageOf } from '../../text/message-of.ts'
import { MINUTE } from '../../text/time.ts'
import type { Clock } from '../clock.ts'
import type { Journal } from '../journal.ts'
import type { Tell } from '../log-codes.ts'
import type { Forecast } from './forecast.ts'

interface ForecastsOptions {
  readonly journal: Journal
  readonly clock: Clock
  readonly forecast: Forecast
  readonly tell: Tell
  /** Stands in the keeper's state until it is taken back. */
  standing(code: 'forecast', text: string | undefined): void
}

/** A forecast that failed is made anew after this: one that hangs keeps the other houses of the process waiting. */
const PAUSE_MILLISECONDS = 10 * MINUTE

/** A start waits for its first forecast so long at most; one that was begun and takes longer is late. */
const FIRST_MILLISECONDS = 10_000

/** Where many houses start, the first forecast of each waits for its turn: no fault, but for so long. */
const TURN_MILLISECONDS = 5 * MINUTE

/** The forecasts of one house: each is made of the house as it is when its turn comes, and goes back to the journal. */
export class Forecasts {
  readonly #given: ForecastsOptions
  #asked: Promise<LeftByMark> | undefined
  #made: Promise<void> = Promise.resolve()
  #cancelPause: (() => void) | undefined
  #cancelLate = (): void => {}
  #isFirst = true
  #stopped = false

  constructor(given: ForecastsOptions) {
    this.#given = given
  }

  /**
   * Resolves when the first is in the journal, or could not be made. A start waits for it only so long: another house's
   * may hang before it. Until it comes no silent cell is certain.
   */
  get first(): Promise<void> {
    const { journal, clock } = this.#given
    return new Promise(done => {
      const cancel = clock.after(FIRST_MILLISECONDS, () => {
        if (this.#stopped) return
        journal.play({ kind: 'no-forecast' })
        done()
      })
      void this.#made.then(() => {
        cancel()
        done()
      })
    })
  }

  /** In the pause after one that failed, the end of the pause makes it. */
  make(): void {
    if (this.#cancelPause || this.#stopped) return
    const { journal, clock, forecast, tell } = this.#given
    let madeFrom: Ledger | undefined
    if (!this.#asked) this.#sayLateAfter(TURN_MILLISECONDS)
    const asked = forecast(this, {
      give: () => {
        const { register, ledger } = journal.state
        if (!register) throw new Error('there is no register yet')
        madeFrom = ledger
        this.#sayLateAfter(FIRST_MILLISECONDS)
        return { register, ledger, now: clock.now() }
      },
      died: why => tell(`the thread that forecasts ended (${why}) and is begun again; the tally goes on`, 'forecast'),
    })
    if (asked === this.#asked) return
    this.#asked = asked
    this.#made = asked.then(
      left => {
        this.#firstEnded()
        if (this.#stopped || !madeFrom) return
        journal.play({ kind: 'forecast', left, madeFrom })
        this.#given.standing('forecast', undefined)
      },
      error => this.#failed(messageOf(error)),
    )
  }

  /** Says that the first forecast is late where it has not come by then. */
  #sayLateAfter(milliseconds: number): void {
    if (!this.#isFirst) return
    const { clock, standing } = this.#given
    this.#cancelLate()
    this.#cancelLate = clock.after(milliseconds, () =>
      standing('forecast', 'no forecast of the cells yet: the first one takes long'),
    )
  }

  #firstEnded(): void {
    this.#isFirst = false
    this.#cancelLate()
  }

  #failed(why: string): void {
    this.#firstEnded()
    if (this.#stopped) return
    const { journal, clock, standing } = this.#given
    journal.play({ kind: 'no-forecast' })
    standing('forecast', `no forecast of the cells: ${why}`)
    this.#cancelPause = clock.after(PAUSE_MILLISECONDS, () => {
      this.#cancelPause = undefined
      this.make()
    })
  }

  stop(): void {
    this.#stopped = true
    this.#cancelPause?.()
    this.#cancelLate()
  }
}
