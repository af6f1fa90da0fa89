import { leftOf } from '../../house/forecast.ts'
import { policyOf } from '../../house/policy.ts'
import type { LeftByMark } from '../../house/state.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { HousePolicy } from '../../protocol/policy.ts'
import type { Register } from '../../register/types.ts'

/** What takes the cells' models: a wall with a keeper never needs them, so they stand in a file of their own. */
export interface Forecast {
  readonly left: LeftByMark
  readonly policies: HousePolicy
}

/** @param now - milliseconds since the epoch */
export const forecastHouse = (register: Register, ledger: Ledger, now: number): Forecast => ({
  left: leftOf(register, ledger, now),
  policies: policyOf(register),
})
