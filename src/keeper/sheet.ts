import type { Ledger } from '../ledger/apply.ts'
import { plainWord } from '../ledger/plain-word.ts'
import { nextChange, read } from '../ledger/read.ts'
import type { Entry, What } from '../protocol/entry.ts'
import { KEEPER_NAME } from '../protocol/entry.ts'
import type { HousePolicy } from '../protocol/policy.ts'
import type { Left, Reading } from '../protocol/reading.ts'
import type { TallyTopics } from '../protocol/topics.ts'
import type { Register } from '../register/types.ts'
import { own } from '../text/own.ts'
import { DAY, iso } from '../text/time.ts'
import type { Clock } from './clock.ts'
import { newId } from './id.ts'
import { readingNote, registerNote, sameReading } from './notes.ts'
import type { Outlet } from './outlet.ts'

/** A forecast takes some 50 ms a house: it follows the words at this distance. */
const FORECAST_AFTER_MILLISECONDS = 3_000

/** Words of more openings than this in one transaction are a storm: their readings go out together a little later. */
const MANY_MARKS = 8
const STORM_MILLISECONDS = 100

const WORDS: ReadonlySet<What> = new Set<What>(['opened', 'closed', 'rest', 'gone', 'odd'])

/** What every cell has left; `leftOf` of `house/forecast.ts`. */
export type Forecast = (register: Register, ledger: Ledger, now: number) => Readonly<Record<string, Left>>

/** Readings of the house on their way to the broker: at every entry, and when time alone changes one. */
export class Sheet {
  readonly #outlet: Outlet
  readonly #topics: TallyTopics
  readonly #clock: Clock
  readonly #add: (entry: Entry) => void
  readonly #forecastOf: Forecast
  readonly #tell: (line: string) => void
  readonly #noted = new Set<string>()
  #register: Register | undefined
  #policy: HousePolicy = {}
  #names = new Map<string, string>()
  #left: Readonly<Record<string, Left>> = {}
  #ledger: Ledger | undefined
  #cancelChange = (): void => {}
  #cancelForecast: (() => void) | undefined
  #cancelDaily = (): void => {}
  #cancelStorm: (() => void) | undefined
  #shownAt = Number.NEGATIVE_INFINITY
  #stopped = false

  /** @param add - takes an entry of the keeper's own: that a cell is low is noted, so that it stays so */
  constructor(
    outlet: Outlet,
    topics: TallyTopics,
    clock: Clock,
    add: (entry: Entry) => void,
    tell: (line: string) => void,
    forecast: Forecast,
  ) {
    this.#forecastOf = forecast
    this.#tell = tell
    this.#outlet = outlet
    this.#topics = topics
    this.#clock = clock
    this.#add = add
  }

  /** The register is new or edited: what left it is cleared at the broker. */
  use(register: Register, policy: HousePolicy, ledger: Ledger): void {
    this.#register = register
    this.#policy = policy
    this.#names = new Map(register.openings.map(({ mark, name }) => [mark, name]))
    const wanted = new Set([this.#topics.register])
    for (const mark of this.#names.keys()) wanted.add(this.#topics.opening(mark)).add(this.#topics.plain(mark))
    for (const topic of this.#outlet.topics) if (!wanted.has(topic)) this.#outlet.clear(topic)
    this.#outlet.set(this.#topics.register, JSON.stringify(registerNote(register, policy)))
    this.#forecast(ledger)
  }

  /** Entries came. What a person says may end a lifetime: then the forecast is made before anything is shown. */
  changed(ledger: Ledger, entries: readonly Entry[]): void {
    if (entries.some(({ what, by }) => !WORDS.has(what) && by !== KEEPER_NAME)) {
      this.#forecast(ledger)
      return
    }
    const marks = new Set(entries.map(({ mark }) => mark))
    const now = this.#clock.monotonic()
    if (marks.size > MANY_MARKS && now - this.#shownAt < STORM_MILLISECONDS) {
      this.#ledger = ledger
      this.#cancelStorm ??= this.#clock.after(STORM_MILLISECONDS, () => this.#show(this.#ledger ?? ledger))
    } else {
      this.#shownAt = now
      this.#show(ledger, marks)
    }
    this.#cancelForecast ??= this.#clock.after(FORECAST_AFTER_MILLISECONDS, () => {
      this.#cancelForecast = undefined
      this.#forecast(this.#ledger ?? ledger)
    })
  }

  /** Reads every opening again: time has passed. */
  refresh(ledger: Ledger): void {
    this.#show(ledger)
  }

  readings(ledger: Ledger): readonly Reading[] {
    return read(ledger, this.#clock.now(), this.#policy, this.#left)
  }

  stop(): void {
    this.#stopped = true
    this.#cancelChange()
    this.#cancelForecast?.()
    this.#cancelDaily()
    this.#cancelStorm?.()
  }

  #forecast(ledger: Ledger): void {
    if (!this.#register || this.#stopped) return
    this.#cancelForecast?.()
    this.#cancelForecast = undefined
    // A contact's silence tells something too, without any entry.
    this.#cancelDaily()
    this.#cancelDaily = this.#clock.after(DAY, () => this.#forecast(this.#ledger ?? ledger))
    try {
      this.#left = this.#forecastOf(this.#register, ledger, this.#clock.now())
    } catch (error) {
      this.#tell(`no forecast of the cells: ${error instanceof Error ? error.message : error}`)
    }
    this.#show(ledger)
    this.#noteLow(ledger, this.#clock.now())
  }

  #show(ledger: Ledger, marks?: ReadonlySet<string>): void {
    if (this.#stopped) return
    this.#ledger = ledger
    if (!marks) {
      this.#cancelStorm?.()
      this.#cancelStorm = undefined
    }
    const now = this.#clock.now()
    const some = marks
      ? Object.fromEntries(Object.entries(this.#policy).filter(([mark]) => this.#concerns(mark, marks, ledger)))
      : this.#policy
    for (const reading of read(ledger, now, some, this.#left)) this.#put(reading)
    const next = nextChange(ledger, now, this.#policy)
    this.#cancelChange()
    if (next !== undefined)
      this.#cancelChange = this.#clock.after(next - now + 1, () => this.#show(this.#ledger ?? ledger))
  }

  /** Entries may name an earlier mark, and a twin's doubt reaches the other opening. */
  #concerns(mark: string, marks: ReadonlySet<string>, ledger: Ledger): boolean {
    const twin = own(ledger.marks, mark)?.twinWith
    const names = [mark, ...(this.#policy[mark]?.was ?? []), ...(twin === undefined ? [] : [twin])]
    return names.some(name => marks.has(name))
  }

  #put(reading: Reading): void {
    const { mark } = reading
    const payload = JSON.stringify(readingNote(this.#names.get(mark) ?? mark, reading))
    this.#outlet.set(this.#topics.opening(mark), payload, sameReading(payload))
    this.#outlet.set(this.#topics.plain(mark), plainWord(reading))
  }

  /**
   * A cell that reads low for the first time is noted; only a fresh forecast may say so, and no failed test: what that
   * makes of the cell goes when it is taken back.
   */
  #noteLow(ledger: Ledger, now: number): void {
    for (const { mark, doubts } of read(ledger, now, this.#policy, this.#left)) {
      const isNoted = Object.hasOwn(ledger.marks, mark) && ledger.marks[mark]?.fold.low === true
      if (isNoted || !doubts.includes('low') || doubts.includes('spent')) this.#noted.delete(mark)
      else if (!this.#noted.has(mark)) {
        this.#noted.add(mark)
        this.#add({ id: newId(now), at: iso(now), mark, what: 'note', how: 'live', by: KEEPER_NAME, text: 'low' })
      }
    }
  }
}
