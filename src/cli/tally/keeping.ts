import { randomBytes } from 'node:crypto'
import { resolve } from 'node:path'
import { policyOf } from '../../house/policy.ts'
import type { HouseState } from '../../house/state.ts'
import { systemClock } from '../../keeper/clock.ts'
import { Keeper } from '../../keeper/keeper.ts'
import { HomieDevices, homieWill } from '../../keeper/publish/homie.ts'
import { silentSentence } from '../../keeper/publish/sentences.ts'
import type { Backups } from '../../keeper/repair/upkeep.ts'
import { type ChallengeHooks, challenge } from '../../keeper/session/challenge.ts'
import { openLedger } from '../../keeper/store/rules.ts'
import type { TallyStore } from '../../keeper/store/store.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { KeeperNote } from '../../protocol/keeper-note.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import type { Register } from '../../register/types.ts'
import { tame } from '../../text/problems.ts'
import { iso } from '../../text/time.ts'
import type { Credentials } from '../broker/credentials.ts'
import { keeperClientId, linkTo } from '../broker/link.ts'
import { linkReason } from '../broker/reason.ts'
import { readInput } from '../files/read-write.ts'
import { readRegister } from '../files/register.ts'
import { STDIN } from '../program/option.ts'
import { writeFolder } from '../store/append-tally.ts'
import { EXIT, Stop, type World } from '../world.ts'
import { watchRegister } from './register-watch.ts'

/** First level of the devices' topics, as the convention has it. */
const HOMIE_DOMAIN = 'homie'

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
}

/**
 * Runs the keeper of a house until it is stopped: takes the folder and the house's one place, follows the register.
 * @returns when the world's signal stops it
 * @throws Stop exit 3 when the folder, the place or the disk cannot be had, or another keeper takes over
 */
export async function keepHouse(options: KeepingOptions, world: World): Promise<void> {
  const text = await readInput(options.path, world)
  const register = await readRegister(options.path, world)
  const startedIso = iso(world.now())
  await writeFolder(options.folder, policyOf(register), world, async store => {
    store.begin(startedIso)
    await keepStore({ ...options, register, text, store, startedIso }, world)
  })
}

interface Opened extends KeepingOptions {
  readonly register: Register
  readonly text: string
  readonly store: TallyStore<Ledger>
  readonly startedIso: string
}

async function keepStore(opened: Opened, world: World): Promise<void> {
  const { path, broker, account, trust, tell, register, store, startedIso } = opened
  const ledger = openLedger(store, policyOf(register), startedIso, countingAgain(tell))
  const keeper = randomBytes(6).toString('hex')
  const place = await takePlace(opened, keeper, world)
  if (!place) return
  const will: KeeperNote = { v: 1, state: 'gone', beat: startedIso, since: startedIso }
  const link = {
    clientId: keeperClientId(register.tally),
    clean: false,
    // Few enough that a redelivery always stands among the last commits.
    receiveMaximum: 100,
    sessionExpirySeconds: SESSION_SECONDS,
    will: { topic: tallyTopics(register.tally).keeper, payload: JSON.stringify(will), retain: true, qos: 1 as const },
    now: world.now,
    onListenerError: (error: unknown) =>
      tell(`a message could not be taken: ${error instanceof Error ? error.message : error}`),
  }
  const feed = linkTo(broker, account, link, trust)
  const clock = { ...systemClock, now: world.now }
  const giveRestWords = opened.giveRestWords === true
  const warn = warner(world)
  const { backups } = opened
  const folder = resolve(world.cwd, opened.folder)
  const upkeep = { folder, ...(backups ? { backups } : {}) }
  const house = new Keeper({
    register,
    store,
    ledger,
    feed,
    clock,
    keeper,
    startedIso,
    tell,
    warn,
    giveRestWords,
    upkeep,
  })
  const watch =
    path === STDIN
      ? undefined
      : watchRegister(
          { path, file: resolve(world.cwd, path), first: opened.text, now: world.now },
          { edited: edited => house.adopt(edited), broken: problem => house.refuseEdit(problem) },
        )
  if (!watch) tell('the register came from standard input: an edit of it is not taken up')
  house.start()
  opened.opened?.({ state: () => house.state(), newest: () => store.lastAt() ?? 0 })
  const devices = opened.homie ? homieOf(opened, world) : undefined
  void house.live.then(() => {
    void place.release()
    devices?.start()
  })
  const why = await endOf(house, world.signal)
  opened.opened?.(undefined)
  watch?.stop()
  await place.release()
  await devices?.stop()
  await house.stop()
  if (why !== undefined) throw new Stop(EXIT.world, why)
}

/** On a link of its own, whose last will tells that the house is lost. */
function homieOf({ register, broker, account, trust, tell }: Opened, world: World): HomieDevices {
  const { tally, openings } = register
  const will = homieWill(
    HOMIE_DOMAIN,
    tally,
    openings.map(({ mark }) => mark),
  )
  const feed = linkTo(broker, account, { will, now: world.now }, trust)
  return new HomieDevices({ feed, tally, domain: HOMIE_DOMAIN, now: world.now, tell })
}

async function takePlace(
  { register, broker, account, trust, tell }: Opened,
  keeper: string,
  world: World,
): Promise<{ release(): Promise<void> } | undefined> {
  const scout = linkTo(broker, account, { now: world.now }, trust)
  const hooks: ChallengeHooks = {
    link(state) {
      if (state.state === 'refused') tell(`the broker at ${broker} refuses: ${state.why}; trying on`)
      else if (state.state === 'down')
        tell(`no broker at ${broker}${state.why ? ` (${linkReason(state.why)})` : ''}; trying on`)
    },
    silent: () => warner(world)(silentSentence(tallyTopics(register.tally).filters.echoes)),
  }
  const found = await challenge(scout, register.tally, keeper, systemClock, hooks, world.signal).catch(error => {
    if (!world.signal.aborted) throw error
  })
  if (!found) return undefined
  if (found.free) return found
  const since = found.since === '' ? 'is just starting' : `has been at work since ${found.since}`
  throw new Stop(EXIT.world, `another keeper of ${register.tally} ${since}: one keeper a house; end it first`)
}

const warner =
  (world: World) =>
  (line: string): void =>
    world.stderr.write(`${tame(line)}\n`)

/** @returns why the keeper ends by itself; undefined when the signal ends it */
function endOf(house: Keeper, signal: AbortSignal): Promise<string | undefined> {
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

function countingAgain(tell: (line: string) => void): (counted: number, of: number) => void {
  let next = 0
  return (counted, of) => {
    if (counted < next) return
    if (next === 0) tell(`the register counts openings by other rules than before: counting ${of} entries again`)
    else tell(`${counted} of ${of} counted`)
    next += Math.max(50_000, Math.ceil(of / 10))
  }
}
