import { policyOf } from '../../house/policy.ts'
import type { Ledger } from '../../ledger/apply.ts'
import type { Feed } from '../../protocol/feed.ts'
import type { KeeperNote } from '../../protocol/keeper-note.ts'
import { tallyTopics } from '../../protocol/topics.ts'
import { isLoopbackAddress } from '../../text/loopback.ts'
import { messageOf } from '../../text/message-of.ts'
import { DAY } from '../../text/time.ts'
import { systemClock } from '../clock.ts'
import { Keeper } from '../keeper.ts'
import type { Tell } from '../log-codes.ts'
import { openLedger } from '../store/rules.ts'
import type { TallyStore } from '../store/store.ts'
import type { KeepOptions } from './keep-options.ts'

/** A month: how long a broker keeps what waits for a keeper that is down. */
const SESSION_SECONDS = (30 * DAY) / 1000

/** The house with its store. */
export interface Opened extends KeepOptions {
  readonly store: TallyStore<Ledger>
  readonly startedIso: string
  /** Name of the keeper for this run. */
  readonly keeper: string
  /** Nothing listened at the broker's address when the place was asked for. */
  readonly wasBrokerDown?: boolean
  now(): number
}

/** The link whose session is the keeper's; it is not open yet. */
export function keeperLink({ register, links, startedIso, now, tell }: Opened, clientId: string): Feed {
  const will: KeeperNote = { v: 1, state: 'gone', beat: startedIso, since: startedIso }
  return links.link({
    clientId,
    clean: false,
    // Few enough that a redelivery always stands among the last commits.
    receiveMaximum: 100,
    sessionExpirySeconds: SESSION_SECONDS,
    will: { topic: tallyTopics(register.tally).keeper, payload: JSON.stringify(will), retain: true, qos: 1 as const },
    now,
    onListenerError: (error: unknown) => tell(`a message could not be taken: ${messageOf(error)}`, 'message-failed'),
  })
}

/** A keeper that is not started yet. */
export function keeperOf(opened: Opened, feed: Feed): Keeper {
  const { register, links, store, startedIso, keeper, folder, now, tell, backups } = opened
  return new Keeper({
    register,
    store,
    ledger: openLedger(store, policyOf(register), startedIso, countingAgain(tell)),
    feed,
    clock: { ...systemClock, now },
    keeper,
    startedIso,
    tell,
    broker: { isHere: isHere(links.url), wasDown: opened.wasBrokerDown === true },
    waits: 'beside',
    giveRestWords: opened.giveRestWords === true,
    upkeep: { folder, ...(backups ? { backups } : {}) },
  })
}

const isHere = (addresses: string): boolean =>
  addresses.split(' ').every(address => isLoopbackAddress(new URL(address).hostname))

function countingAgain(tell: Tell): (counted: number, of: number) => void {
  let next = 0
  return (counted, of) => {
    if (counted < next) return
    if (next === 0)
      tell(`the register counts openings by other rules than before: counting ${of} entries again`, 'recounting')
    else tell(`${counted} of ${of} counted`, 'recounting')
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
