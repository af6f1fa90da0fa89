/** Sashtally's pure core: register, ledger, budget, messages and emitters. It reads no clock and touches no file or network. */
// biome-ignore-all assist/source/organizeImports: the order is that of the subjects

// The register: the one file that a person writes.
export { registerJsonSchema } from './register/json-schema.ts'
export { parseRegister } from './register/parse.ts'
export type {
  AlertSettings,
  JsonPointers,
  Kind,
  Opening,
  Parsed,
  Phase,
  Place,
  Register,
  Reports,
  Roof,
  Sender,
  Settings,
  Wifi,
  Words,
} from './register/types.ts'
export type { Problem } from './text/problem.ts'
export { formatProblem } from './text/problems.ts'

// The ledger: what was heard and said, counted, and what may be told of it.
export { earsOf, policyOf } from './house/policy.ts'
export { apply as applyEntry, applyAll, type Ledger, startLedger, withPolicy } from './ledger/apply.ts'
export { type Headline, headline as headlineOf } from './ledger/headline.ts'
export { type Ear, type Ears, type Hearing, hear as entryOfMessage } from './ledger/hear.ts'
export { nextChange, read } from './ledger/read.ts'
export type { Entry, How } from './protocol/entry.ts'
export type { HousePolicy, Policy } from './protocol/policy.ts'
export type { Doubt, Left, Position, Reading } from './protocol/reading.ts'
export type { What } from './protocol/whats.ts'

// The machine that a keeper and a wall run: an event in, the next state and what is to be done out.
export { step } from './house/machine.ts'
export { type Effect, type HouseEvent, type HouseState, type Stepped, startHouse } from './house/state.ts'

// A walk round the house.
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

// Topics and payloads of the tally.
export { type AlertNote, parseAlert } from './protocol/alert.ts'
export type { Feed, Heard, LinkState } from './protocol/feed.ts'
export { type HeardNote, parseHeard } from './protocol/heard-note.ts'
export { jsonSchemaOf } from './protocol/json-schema.ts'
export { type KeeperNote, parseKeeper } from './protocol/keeper-note.ts'
export { PLAIN_WORDS, type PlainWord } from './protocol/plain.ts'
export { parseReading, type ReadingNote } from './protocol/reading.ts'
export { parseRegisterNote, type RegisterNote } from './protocol/register-note.ts'
export { type ParsedSay, parseSay, type Say } from './protocol/say.ts'
export { parseStory, type StoryNote } from './protocol/story.ts'
export { type TallyPlace, type TallyTopics, tallyPlace, tallyTopics } from './protocol/topics.ts'

// The budget of one kind of contact, and what the cells of a house have left.
export { proofInterval } from './budget/advice/proof-interval.ts'
export { slowJoin } from './budget/advice/slow-join.ts'
export { suit as suitability } from './budget/advice/suit.ts'
export { calibrate as calibrateAgeing } from './budget/circuit/calibrate.ts'
export { CELLS } from './budget/circuit/cells.ts'
export { eventBudget } from './budget/circuit/event-budget.ts'
export { LOADS } from './budget/circuit/loads.ts'
export { wholeOpenings } from './budget/circuit/new-cell.ts'
export { simulateOpening } from './budget/circuit/simulate.ts'
export { fitLifetimes } from './budget/lives/fit-lifetimes.ts'
export { forecast as cellForecast } from './budget/lives/forecast.ts'
export { leftByMark } from './budget/lives/left.ts'
export type {
  BudgetSender,
  CellCircuit,
  CellModel,
  EventBudget,
  Figure,
  Inrush,
  LoadModel,
  LoadPhase,
  OpeningResult,
  Range,
  Reservoir,
  ReservoirCircuit,
  Sensitivity,
} from './budget/types.ts'
export { forecastOf, leftOf } from './house/forecast.ts'

// What is made from the register.
export { accessList } from './emit/broker/access.ts'
export { type EmittedFile, firmwareHeader } from './emit/firmware/firmware.ts'
export { privateHeader } from './emit/firmware/private-header.ts'
export { hub as hubBlock } from './emit/hub/hub.ts'
export { parseProfile } from './emit/hub/profile.ts'
export { labelPage } from './emit/paper/labels.ts'
export { scheduleCsv, scheduleHtml } from './emit/paper/schedule.ts'
export { asyncapi as asyncapiOfContacts } from './emit/standards/asyncapi.ts'
export { asyncapiOfTally } from './emit/standards/asyncapi-tally.ts'
export { type CellDue, calendar as cellCalendar } from './emit/standards/calendar.ts'
export { things as thingDescriptions } from './emit/standards/things.ts'
