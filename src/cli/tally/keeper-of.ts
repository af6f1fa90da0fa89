import { resolve } from 'node:path'
import { policyOf } from '../../house/policy.ts'
import type { HouseState } from '../../house/state.ts'
import { systemClock } from '../../keeper/clock.ts'
import { Keeper } from '../../keeper/keeper.ts'
import type { Health } from '../../keeper/publish/verdict.ts'
import type { Backups } from '../../keeper/repair/upkeep.ts'
import { openLedger } from '../../keeper/store/rules.ts'
import type { TallyStore } from '../../keeper/store/store.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { Feed } from '../../protocol/feed.ts'
import type { KeeperNote } from '../../protocol/keeper-note.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'
import { tame } from '../../text/problems.ts'
import type { Credentials } from '../broker/credentials.ts'
import { linkTo } from '../broker/link.ts'
import type { World } from '../world.ts'

/** A month: how long a broker keeps what waits for a keeper that is down. */
const SESSION_SECONDS = 30 * 86_400

export interface KeepingOptions {
  /** The register's file, or `STDIN`. */
  readonly path: string
  readonly folder: string
  readonly account: Credentials
  /** Address of the broker, where it is not the register's. */
  readonly broker: string
  readonly giveRestWords?: boolean
  /** Begins a new tally although the broker holds readings of an older one. */
  readonly beginAnew?: boolean
  /** Also tells of the house as devices of the Homie convention. */
  readonly homie?: boolean
  /** Where copies of the tally go every day, and how many stay. */
  readonly backups?: Backups
  /** Certificate (PEM) to be trusted for `broker`, whatever name it is for. */
  readonly trust?: string
  tell(line: string): void
  /** The tally is open and may be asked; undefined: no more. */
  opened?(tally: OpenTally | undefined): void
}

/** A tally that is being kept. */
export interface OpenTally {
  state(): HouseState
  /** When the tally was last added to, milliseconds since the epoch. */
  newest(): number
  health(): Health
}

/** The house with its register and store. */
export interface Opened extends KeepingOptions {
  readonly register: Register
  readonly text: string
  readonly store: TallyStore<Ledger>
  readonly startedIso: string
  /** Name of the keeper for this run. */
  readonly keeper: string
}

/** The link whose session is the keeper's; it is not open yet. */
export function keeperLink(
  { register, broker, account, startedIso, trust, tell }: Opened,
  clientId: string,
  world: World,
): Feed {
  const will: KeeperNote = { v: 1, state: 'gone', beat: startedIso, since: startedIso }
  const link = {
    clientId,
    clean: false,
    // Few enough that a redelivery always stands among the last commits.
    receiveMaximum: 100,
    sessionExpirySeconds: SESSION_SECONDS,
    will: { topic: tallyTopics(register.tally).keeper, payload: JSON.stringify(will), retain: true, qos: 1 as const },
    now: world.now,
    onListenerError: (error: unknown) =>
      tell(`a message could not be taken: ${error instanceof Error ? error.message : error}`),
  }
  return linkTo(broker, account, link, trust)
}

/** A keeper that is not started yet. */
export function keeperOf(opened: Opened, feed: Feed, world: World): Keeper {
  const { register, store, startedIso, keeper, tell, backups } = opened
  return new Keeper({
    register,
    store,
    ledger: openLedger(store, policyOf(register), startedIso, countingAgain(tell)),
    feed,
    clock: { ...systemClock, now: world.now },
    keeper,
    startedIso,
    tell,
    warn: warner(world),
    giveRestWords: opened.giveRestWords === true,
    upkeep: { folder: resolve(world.cwd, opened.folder), ...(backups ? { backups } : {}) },
  })
}

export const warner =
  (world: World) =>
  (line: string): void =>
    world.stderr.write(`${tame(line)}\n`)

function countingAgain(tell: (line: string) => void): (counted: number, of: number) => void {
  let next = 0
  return (counted, of) => {
    if (counted < next) return
    if (next === 0) tell(`the register counts openings by other rules than before: counting ${of} entries again`)
    else tell(`${counted} of ${of} counted`)
    next += Math.max(50_000, Math.ceil(of / 10))
  }
}

/** @returns why the keeper ends by itself; undefined when the signal ends it */
export function endOf(house: Keeper, signal: AbortSignal): Promise<string | undefined> {
  return new Promise(done => {
    const stopped = (): void => done(undefined)
    if (signal.aborted) return stopped()
    signal.addEventListener('abort', stopped, { once: true })
    void house.ended.then(why => {
      signal.removeEventListener('abort', stopped)
      done(why)
    })
  })
}
