/** A keeper inside a program of your own, and what it has kept: for Node. */
// biome-ignore-all assist/source/organizeImports: the order is that of the subjects

// A keeper at work.
export type { KeepOptions, RunningKeeper } from './begin/keep-options.ts'
export { KeeperProblem } from './begin/keeper-problem.ts'
export { keepHouse } from './keep-house.ts'
export { LOG_LEVELS, type LogCode, type LogLevel, type Tell, type TellOfHouses } from './log-codes.ts'
export type { Health, Vitals } from './publish/verdict.ts'
export { housesMetricsText, metricsText } from './publish/metrics.ts'
export { type HousesHealth, verdictOf, verdictOfHouses } from './publish/verdict.ts'
// Many houses.
export type { KeptHouse } from './houses/kept-house.ts'
export { type HousesOptions, keepHouses } from './houses/keep-houses.ts'
export type { Backups } from './repair/backup.ts'

// What a keeper has kept.
export type { EntryFilter } from './store/entry-filter.ts'
export { openTally, type StoredTally } from './store/read-folder.ts'
export { type StoreFault, StoreProblem } from './store/store-problem.ts'

// The links of a keeper.
export { type Credentials, type Links, linksTo, type LinkWishes } from '../link/node/links.ts'
