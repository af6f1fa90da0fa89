import type { HousePolicy, Policy } from '../protocol/policy.ts'
import type { Doubt, Left, Position, Reading } from '../protocol/reading.ts'
import { own } from '../text/own.ts'
import { DAY, iso, MINUTE } from '../text/time.ts'
import type { Ledger } from './apply.ts'
import { AFTER_WAIT, EMPTY_FOLD, type Fold, tidy, willWait } from './fold.ts'
import { testEnd } from './on-test.ts'

/**
 * What may be said of each opening, in the order of the policy.
 * @param now - milliseconds since the epoch
 * @param policy - default: the one the ledger counts by
 * @param leftByMark - what is left in each cell, where a forecast was made
 * @example
 * import { applyAll, headlineOf, parseRegister, policyOf, read, startLedger } from 'sashtally'
 * const { register } = parseRegister(`
 * house: Ropewalk Studios
 * timezone: Europe/Lisbon
 * broker: { mqtt: 'mqtt://127.0.0.1:1883' }
 * tally: ropewalk/tally
 * senders:
 *   coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
 * openings: [{ mark: W01, name: Rope loft, sender: coin }]
 * `)
 * const ledger = applyAll(startLedger(policyOf(register!)), [
 *   { id: 'a', at: '2026-03-01T18:00:00.000Z', mark: 'W01', what: 'opened', how: 'live' },
 * ])
 * const readings = read(ledger, Date.parse('2026-03-01T19:00:00Z'))
 * console.log(readings[0]?.position) // opened
 * console.log(readings[0]?.openings) // 1
 */
export function read(
  ledger: Ledger,
  now: number,
  policy: HousePolicy = ledger.policy,
  leftByMark: Readonly<Record<string, Left>> = {},
): readonly Reading[] {
  return Object.entries(policy).map(([mark, rules]) => {
    const state = own(ledger.marks, mark)
    const left = rules.power === 'cell' ? own(leftByMark, mark) : undefined
    return readOne(mark, state?.fold ?? EMPTY_FOLD, state?.twinWith, now, rules, left, ledger.since)
  })
}

function readOne(
  mark: string,
  fold: Fold,
  twinWith: string | undefined,
  now: number,
  policy: Policy,
  left: Left | undefined,
  since: string | undefined,
): Reading {
  const position = positionOf(fold, now, policy)
  const fitted = fold.countedSince
  const isSeed = fitted === undefined || (since !== undefined && fitted < Date.parse(since))
  const counted = isSeed ? since : iso(fitted)
  const seen = position === 'closed' && policy.reports === 'both' ? fold.bySight : undefined
  const positionSince =
    position === 'taken-closed' && fold.openedAt !== undefined
      ? fold.openedAt + (policy.takeAsClosedAfterMinutes ?? 0) * MINUTE
      : position === 'no-word'
        ? undefined
        : fold.since
  const onTestUntil = testEnd(fold, now)
  return tidy<Reading>({
    mark,
    position,
    since: positionSince === undefined ? undefined : iso(positionSince),
    ...(position === 'taken-closed' || position === 'no-word' ? {} : endOfSince(fold)),
    doubts: doubtsOf(fold, twinWith, now, policy, left),
    onTestUntil: onTestUntil === undefined ? undefined : iso(onTestUntil),
    last: fold.last,
    openings: fold.openings,
    sends: fold.sends,
    countedSince: policy.power === 'cell' ? counted : undefined,
    left,
    asOf: iso(now),
    provenAt: fold.provenAt === undefined ? undefined : iso(fold.provenAt),
    unheardOnWalk: fold.unheardOnWalk === undefined ? undefined : iso(fold.unheardOnWalk),
    twinWith,
    unheard: unheardOf(fold, position),
    seen,
    seenBy: position === 'closed' && fold.bySight ? fold.seenBy : undefined,
    against: fold.edge === 'opened' ? seen : undefined,
    odd: fold.odd,
  })
}

const endOfSince = ({ sinceUntil }: Fold) =>
  sinceUntil === null ? { notBefore: true as const } : sinceUntil === undefined ? {} : { sinceUntil: iso(sinceUntil) }

const unheardOf = ({ unheardAt }: Fold, position: Position): string | undefined =>
  unheardAt === undefined || position !== 'closed' ? undefined : iso(unheardAt)

export function positionOf(fold: Fold, now: number, policy: Policy): Position {
  if (fold.state === 'none') return 'no-word'
  if (fold.state === 'closed') return 'closed'
  if (policy.reports === 'both') return 'open'
  if (isOpen(fold, now, policy)) return 'open'
  const minutes = policy.takeAsClosedAfterMinutes
  const taken = minutes !== null && fold.openedAt !== undefined && now - fold.openedAt >= minutes * MINUTE
  return taken ? 'taken-closed' : 'opened'
}

function isOpen(fold: Fold, now: number, policy: Policy): boolean {
  if (fold.wordAt === undefined) return false
  const passed = now - fold.wordAt
  if (passed < -AFTER_WAIT) return false
  if (policy.repeatSeconds !== undefined) return passed < 1100 * policy.repeatSeconds + willWait(policy)
  return !fold.rested && passed < willWait(policy) + AFTER_WAIT
}

function doubtsOf(
  fold: Fold,
  twinWith: string | undefined,
  now: number,
  policy: Policy,
  left: Left | undefined,
): readonly Doubt[] {
  // A time more than a day ahead proves nothing: by a clock that was set back for less it was proved not long ago.
  const provenFor = now - (fold.provenAt ?? Number.NEGATIVE_INFINITY)
  const proven = provenFor >= -DAY && provenFor <= policy.provenWithinDays * DAY
  // A cell that sends although the model says that it never starts shows the model to be wrong.
  const isRefuted = policy.modelSends === 0 && fold.sends > 0
  const past = policy.modelSends !== undefined && !isRefuted && fold.sends >= policy.modelSends - 1e-9
  const noDeath = (left?.restsOn.deaths ?? 0) === 0
  const low = fold.low || (left !== undefined && nextIfAlive(left) < policy.replaceBelow) || (noDeath && past)
  const flashed = fold.revision !== undefined && policy.revision !== undefined && fold.revision !== policy.revision
  const doubts: Record<Doubt, boolean> = {
    untested: !proven || fold.unheardOnWalk !== undefined,
    overdue: isTooSilent(left) && !fold.spent,
    faint: fold.faint,
    twin: twinWith !== undefined,
    low: policy.power === 'cell' && low,
    spent: policy.power === 'cell' && fold.spent,
    silent: fold.silent,
    reflash: flashed,
  }
  return (Object.keys(doubts) as Doubt[]).filter(doubt => doubts[doubt])
}

/** The cell is more likely dead than not: it is to be tested. */
export const OVERDUE_BELOW = 0.5

/** False too where nobody knows: without a forecast of now the doubt `overdue` says only that. */
export const isTooSilent = (left: Left | undefined): boolean => (left?.alive ?? 1) < OVERDUE_BELOW

/** Chance that the next opening gets through if the cell still runs: silence alone never makes a cell low. */
const nextIfAlive = ({ next, alive = 1 }: Left): number => (alive > 0 ? next / alive : 0)

/** Times at which a position may change by the passing of time alone, milliseconds, in no order. */
export function turnsOf({ wordAt, openedAt }: Fold, policy: Policy): number[] {
  const { reports, repeatSeconds, takeAsClosedAfterMinutes: minutes } = policy
  if (reports === 'both') return []
  const times: number[] = []
  if (wordAt !== undefined)
    times.push(wordAt + willWait(policy) + (repeatSeconds === undefined ? AFTER_WAIT : 1100 * repeatSeconds))
  if (openedAt !== undefined && minutes !== null) times.push(openedAt + minutes * MINUTE)
  return times
}

/** The next time at which a reading changes by the passing of time alone; milliseconds since the epoch. */
export function nextChange(ledger: Ledger, now: number, policy: HousePolicy = ledger.policy): number | undefined {
  let next: number | undefined
  for (const [mark, rules] of Object.entries(policy)) {
    const fold = own(ledger.marks, mark)?.fold
    if (!fold) continue
    const times = turnsOf(fold, rules)
    if (fold.onTest) times.push(fold.onTest.until)
    if (fold.provenAt !== undefined) times.push(fold.provenAt - DAY, fold.provenAt + rules.provenWithinDays * DAY + 1)
    for (const time of times) if (time > now && (next === undefined || time < next)) next = time
  }
  return next
}
