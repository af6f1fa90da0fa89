import { leftSteps } from '../../house/forecast.ts'
import { policyOf } from '../../house/policy.ts'
import type { LeftByMark } from '../../house/state.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { HousePolicy } from '../../protocol/policy.ts'
import type { Register } from '../../register/types.ts'
import type { Steps } from '../../text/steps.ts'

/** What takes the cells' models: a wall with a keeper never needs them, so they stand in a file of their own. */
export interface Forecast {
  readonly left: LeftByMark
  readonly policies: HousePolicy
}

/**
 * In steps: all at once would stop the page of a slow tablet for seconds.
 * @param now - milliseconds since the epoch
 */
export function* forecastHouse(register: Register, ledger: Ledger, now: number): Steps<Forecast> {
  const policies = policyOf(register)
  yield
  return { left: yield* leftSteps(register, ledger, now), policies }
}
