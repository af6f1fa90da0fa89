import type { LeftByMark } from '../../house/state.ts'
import type { Ledger } from '../../ledger/apply.ts'
import { EMPTY_FOLD } from '../../ledger/fold.ts'
import type { Register } from '../../register/types.ts'

/** What a forecast is made from. */
export interface ForecastInput {
  readonly register: Register
  readonly ledger: Ledger
  /** Milliseconds since the epoch. */
  readonly now: number
}

/** What every cell has left, or why nobody knows. */
export type ForecastAnswer = { readonly left: LeftByMark } | { readonly error: string }

export interface ForecastAsk {
  /** Called when its turn comes. */
  give(): ForecastInput
  /** The thread ended over this forecast, and is begun again. */
  died(why: string): void
}

/** Works out what every cell of a house has left. `house`: one object a house. */
export type Forecast = (house: object, ask: ForecastAsk) => Promise<LeftByMark>

/** A ledger without the entries that it remembers: a forecast asks for sums alone, and the rest need not be copied. */
export const leanLedger = (ledger: Ledger): Ledger => ({
  ...ledger,
  recent: [],
  marks: Object.fromEntries(
    Object.entries(ledger.marks).map(([mark, state]) => [mark, { ...state, base: EMPTY_FOLD, window: [] }]),
  ),
})
