import { applyAll, type Ledger, startLedger, withPolicy } from '../../ledger/apply.ts'
import type { HousePolicy, Policy } from '../../protocol/policy.ts'
import { own } from '../../text/own.ts'
import type { TallyStore } from './store.ts'
import type { Rules } from './store-rules.ts'

/** How the store adds entries up to a ledger of this house. */
export const ledgerRules = (policy: HousePolicy): Rules<Ledger> => ({
  format: 'ledger 5',
  start: born => startLedger(policy, born === '' ? undefined : born),
  apply: applyAll,
})

/** The contacts' topics that the last keeper of this store listened to; undefined where it did not say. */
export function listenedTopics(store: TallyStore<Ledger>): readonly string[] | undefined {
  const topics = store.fact('topics')
  return topics === undefined ? undefined : (JSON.parse(topics) as readonly string[])
}

/** The part of a policy that decides how entries count; the rest only decides how they read. */
const counting = (policy: Policy | undefined): string => {
  if (!policy) return ''
  const { reports, power, cell, keepAliveSeconds, bootSeconds, bounceSeconds, repeatSeconds, was } = policy
  return JSON.stringify([reports, power, cell, keepAliveSeconds, bootSeconds, bounceSeconds, repeatSeconds, was ?? []])
}

/** True when openings that have a history count by other rules now, so that it must be counted from the beginning. */
export function mustRecount(ledger: Ledger, policy: HousePolicy): boolean {
  const had = (mark: string): boolean => Object.hasOwn(ledger.marks, mark)
  return Object.keys(policy).some(mark => {
    const before = own(ledger.policy, mark)
    const touched = had(mark) || (policy[mark]?.was ?? []).some(had)
    return touched && counting(before) !== counting(policy[mark])
  })
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
