import { nextChange, read } from '../ledger/read.ts'
import type { HousePolicy, Policy } from '../protocol/policy.ts'
import type { Reading } from '../protocol/reading.ts'
import { own } from '../text/own.ts'
import type { HouseState, PendingNote } from './state.ts'
import { doubted } from './unforecast.ts'

/** True when the two say the same; when they were read does not matter. */
export const saysTheSame = ({ asOf: _a, ...a }: Reading, { asOf: _b, ...b }: Reading): boolean => isEqual(a, b)

/** Of plain JSON; the order of fields does not matter. */
function isEqual(a: unknown, b: unknown): boolean {
  if (a === b) return true
  if (typeof a !== 'object' || typeof b !== 'object' || a === null || b === null) return false
  const [keys, others] = [Object.keys(a), Object.keys(b)]
  const [left, right] = [a as Record<string, unknown>, b as Record<string, unknown>]
  return keys.length === others.length && keys.every(key => Object.hasOwn(b, key) && isEqual(left[key], right[key]))
}

/**
 * Reads again only what changed: by an entry, a forecast, the register or the passing of time.
 * @param before - a state whose readings are right
 * @param after - the same house later: all but its readings is as it is now
 * @returns `after` with its readings, and the marks of those that say something else
 */
export function readAgain(
  before: HouseState,
  after: HouseState,
): { readonly state: HouseState; readonly changed: readonly string[] } {
  const { register, ledger, left, unforecast, now } = after
  const isOther = register !== before.register || ledger.policy !== before.ledger.policy || left !== before.left
  const isAll = isOther || unforecast !== before.unforecast || now < before.now
  const due = isAll ? ledger.policy : dueOf(before, after)
  const { awaited } = after
  const dueMarks = Object.keys(due)
  if (!isAll && dueMarks.length === 0) return { state: after, changed: [] }
  const readings = new Map(isAll ? [] : before.readings)
  const turns = new Map(isAll ? [] : before.turns)
  const changed: string[] = []
  for (const made of read(ledger, now, due, left)) {
    const { mark } = made
    const forecast = unforecast.has(mark) && due[mark]?.power === 'cell' ? doubted(made) : made
    const reading = awaited.size === 0 ? forecast : covered(forecast, awaited.get(mark))
    const known = before.readings.get(mark)
    const isSame = known !== undefined && saysTheSame(known, reading)
    readings.set(mark, isSame ? known : reading)
    turns.set(mark, nextChange(ledger, now, { [mark]: due[mark]! }) ?? Number.POSITIVE_INFINITY)
    if (!isSame) changed.push(mark)
  }
  return { state: { ...after, readings, turns }, changed }
}

/** A door whose kept word is waited for is not certain until it comes. */
const covered = (reading: Reading, awaited: PendingNote | undefined): Reading =>
  awaited && reading.position === 'closed' && reading.unheard === undefined
    ? { ...reading, unheard: awaited.note.at }
    : reading

/** What has another state than before, or changes by now. */
function dueOf(before: HouseState, { ledger: { marks, policy }, awaited, now }: HouseState): HousePolicy {
  const due: Record<string, Policy> = {}
  const old = before.ledger.marks
  for (const [mark, rules] of Object.entries(policy)) {
    const isTouched = marks !== old && own(marks, mark) !== own(old, mark)
    const isAwaited = awaited !== before.awaited && awaited.get(mark) !== before.awaited.get(mark)
    if (isTouched || isAwaited || now >= (before.turns.get(mark) ?? Number.POSITIVE_INFINITY)) due[mark] = rules
  }
  return due
}
