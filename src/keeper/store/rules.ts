import { unknownUntil } from '../../house/deaf.ts'
import { type HouseState, startHouse } from '../../house/state.ts'
import { allUnforecast } from '../../house/unforecast.ts'
import { applyAll, type Ledger, startLedger, withPolicy } from '../../ledger/apply.ts'
import { LEDGER_FORMAT, ledgerOf, part } from '../../ledger/kept-ledger.ts'
import type { HousePolicy, Policy } from '../../protocol/policy.ts'
import { own } from '../../text/own.ts'
import { factIn } from './facts.ts'
import type { TallyStore } from './store.ts'
import type { Rules } from './store-rules.ts'

/**
 * Folds and windows are taken as they stand: the sum beside a snapshot says that they are what was written, and a look
 * at every part would take a start as long as counting them.
 */
const outline = ledgerOf(part, part)

/** How the store adds entries up to a ledger of this house. */
export const ledgerRules = (policy: HousePolicy): Rules<Ledger> => ({
  format: LEDGER_FORMAT,
  isKept: (value): value is Ledger => outline.safeParse(value).success,
  start: born => startLedger(policy, born === '' ? undefined : born),
  apply: applyAll,
})

/** The house as the last keeper of this store left it; no forecast speaks of it yet. @param until - until when it listened, milliseconds */
export const houseIn = (store: TallyStore<Ledger>, ledger: Ledger, until: number): HouseState => ({
  ...startHouse(ledger, factIn(store, 'topics'), factIn(store, 'deaf') ?? unknownUntil(until, ledger.count)),
  unforecast: allUnforecast(ledger),
})

/** The part of a policy that decides how entries count; the rest only decides how they read. */
const counting = (policy: Policy | undefined): string => {
  if (!policy) return ''
  const {
    reports,
    power,
    cell,
    keepAliveSeconds,
    bootSeconds,
    bounceSeconds,
    repeatSeconds,
    was = [],
    timezone,
  } = policy
  const words = [reports, keepAliveSeconds, bootSeconds, bounceSeconds, repeatSeconds]
  return JSON.stringify([words, power, cell, was, timezone])
}

/** True when openings that have a history count by other rules now, so that it must be counted from the beginning. */
export function mustRecount(ledger: Ledger, policy: HousePolicy): boolean {
  const had = (mark: string): boolean => Object.hasOwn(ledger.marks, mark)
  // A rename that is undone: what stands under the old mark was counted for the new one.
  const earlier = new Set(Object.values(ledger.policy).flatMap(({ was = [] }) => was))
  return Object.keys(policy).some(mark => {
    const before = own(ledger.policy, mark)
    const touched = had(mark) || earlier.has(mark) || (policy[mark]?.was ?? []).some(had)
    return touched && counting(before) !== counting(policy[mark])
  })
}

/**
 * The ledger of a store that is only read, under the register of today. Only what the snapshot lacks is counted, unless
 * the register counts by other rules than the store's last keeper.
 */
export function ledgerToRead(store: TallyStore<Ledger>, policy: HousePolicy): Ledger {
  const { kept } = store.replay('')
  // Where no counting rule differs, what was counted stands under the rest of the register of today.
  return mustRecount(kept, policy) ? applyAll(startLedger(policy, kept.since), store.entries()) : { ...kept, policy }
}

/**
 * The ledger of a store under the register of today. Where openings with a history count by other rules than they did,
 * everything is counted again, which takes about a minute a million entries.
 * @param bornIso - when counting began, where the store is new
 */
export function openLedger(
  store: TallyStore<Ledger>,
  policy: HousePolicy,
  bornIso: string,
  onRecount: (counted: number, of: number) => void = () => {},
): Ledger {
  const { kept } = store.replay(bornIso)
  if (!mustRecount(kept, policy)) return { ...kept, policy }
  const steps = store.recount(ledgerRules(policy))
  for (;;) {
    const step = steps.next()
    if (step.done) return step.value
    onRecount(step.value.counted, store.length)
  }
}

/**
 * Counts everything again while other work goes on. Entries must not be committed meanwhile.
 * @returns undefined when `isStopped` said so before the end
 */
export async function recountSlowly(
  store: TallyStore<Ledger>,
  policy: HousePolicy,
  isStopped: () => boolean,
): Promise<Ledger | undefined> {
  const steps = store.recount(ledgerRules(policy))
  for (;;) {
    const step = steps.next()
    if (step.done) return withPolicy(step.value, policy)
    await new Promise(done => setImmediate(done))
    if (isStopped()) return undefined
  }
}
