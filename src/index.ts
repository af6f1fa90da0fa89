/** Sashtally's pure core: register, ledger, budget and emitters. It reads no clock and touches no file or network. */

export { calibrate } from './budget/calibrate.ts'
export { CELLS } from './budget/cells.ts'
export { eventBudget, wholeOpenings } from './budget/event-budget.ts'
export { fitLifetimes } from './budget/fit-lifetimes.ts'
export { forecast } from './budget/forecast.ts'
export { leftByMark } from './budget/left.ts'
export { LOADS } from './budget/loads.ts'
export { proofInterval } from './budget/proof-interval.ts'
export { simulateOpening } from './budget/simulate.ts'
export { slowJoin } from './budget/slow-join.ts'
export { suit } from './budget/suit.ts'
export type * from './budget/types.ts'
export { asyncapi } from './emit/asyncapi.ts'
export { hub } from './emit/hub.ts'
export { parseProfile } from './emit/profile.ts'
export { earsOf, forecastOf, leftOf, policyOf } from './house.ts'
export { apply, applyAll, type Ledger, startLedger, withPolicy } from './ledger/apply.ts'
export { type Headline, headline } from './ledger/headline.ts'
export { type Ear, type Ears, type Hearing, hear } from './ledger/hear.ts'
export { nextChange, read } from './ledger/read.ts'
export {
  nextStep,
  planRound,
  type Round,
  type RoundPlan,
  type RoundReport,
  reportRound,
  roundCost,
  roundEntries,
  tickRound,
} from './ledger/round.ts'
export type * from './ledger/types.ts'
export { parseRegister } from './register/parse.ts'
export { formatProblem } from './register/problems.ts'
export type * from './register/types.ts'
