/** What takes the cells' models: a wall with a keeper never needs them, so they stand in a file of their own. */
import { leftSteps } from '../../house/forecast.ts'
import { modelSendsByMark } from '../../house/policy.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { Register } from '../../register/types.ts'
import type { Steps } from '../../text/steps.ts'
import type { Forecast } from './forecast-answer.ts'

/**
 * In steps: all at once would stop the page of a slow tablet for seconds.
 * @param now - milliseconds since the epoch
 */
export function* forecastHouse(register: Register, ledger: Ledger, now: number): Steps<Forecast> {
  const modelSends = modelSendsByMark(register)
  yield
  return { left: yield* leftSteps(register, ledger, now), modelSends }
}
