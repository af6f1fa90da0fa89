/** Sashtally's pure core: register, ledger, budget and emitters. It reads no clock and touches no file or network. */

export { proofInterval } from './budget/advice/proof-interval.ts'
export { slowJoin } from './budget/advice/slow-join.ts'
export { suit } from './budget/advice/suit.ts'
export { calibrate } from './budget/circuit/calibrate.ts'
export { CELLS } from './budget/circuit/cells.ts'
export { eventBudget } from './budget/circuit/event-budget.ts'
export { LOADS } from './budget/circuit/loads.ts'
export { wholeOpenings } from './budget/circuit/new-cell.ts'
export { simulateOpening } from './budget/circuit/simulate.ts'
export { fitLifetimes } from './budget/lives/fit-lifetimes.ts'
export { forecast } from './budget/lives/forecast.ts'
export { leftByMark } from './budget/lives/left.ts'
export type * from './budget/types.ts'
export { hub } from './emit/hub/hub.ts'
export { parseProfile } from './emit/hub/profile.ts'
export { asyncapi } from './emit/standards/asyncapi.ts'
export { asyncapiOfTally } from './emit/standards/asyncapi-tally.ts'
export { type CellDue, calendar } from './emit/standards/calendar.ts'
export { things } from './emit/standards/things.ts'
export { forecastOf, leftOf } from './house/forecast.ts'
export { earsOf, policyOf } from './house/policy.ts'
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
export type * from './ledger/store.ts'
export type * from './protocol/entry.ts'
export type * from './protocol/feed.ts'
export type * from './protocol/policy.ts'
export type * from './protocol/reading.ts'
export { registerJsonSchema } from './register/json-schema.ts'
export { parseRegister } from './register/parse.ts'
export type * from './register/types.ts'
export type { Problem } from './text/problem.ts'
export { formatProblem } from './text/problems.ts'
