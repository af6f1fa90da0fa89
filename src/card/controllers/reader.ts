import type { Ledger } from '../../ledger/apply.ts'
import { nextChange, read } from '../../ledger/read.ts'
import type { MarkState } from '../../ledger/window.ts'
import type { HousePolicy, Policy } from '../../protocol/policy.ts'
import type { Left, Reading } from '../../protocol/reading.ts'
import { own } from '../../text/own.ts'

type LeftByMark = Readonly<Record<string, Left>>

/** Readings as they were last made, and when each changes by the passing of time. */
interface Made {
  readonly policy: HousePolicy
  readonly left: LeftByMark
  readonly marks: Readonly<Record<string, MarkState>>
  /** Marks of the ledger, and the state of each. */
  readonly names: readonly string[]
  readonly states: readonly MarkState[]
  readonly readings: Map<string, Reading>
  readonly at: number
  readonly changes: Map<string, number>
  /** None of them is earlier. */
  readonly until: number
}

/** Reads again only what changed since the last time, by a word, a forecast or the passing of time. */
export class Reader {
  #last: Made | undefined

  /** @returns the same map each time, brought up to `now`: a house of many is not copied for one word */
  read(ledger: Ledger, policy: HousePolicy, left: LeftByMark, now: number): ReadonlyMap<string, Reading> {
    const { marks } = ledger
    const last = this.#last
    const names = last?.marks === marks ? last.names : Object.keys(marks)
    // A mark keeps its place among the others; in another tally all is read anew.
    const isSame = last?.policy === policy && last.left === left && last.names.every((name, i) => name === names[i])
    const isStale = !last || !isSame || now < last.at
    if (!isStale && last.marks === marks && now < last.until) return last.readings
    const states = Object.values(marks)
    const due = isStale ? policy : dueOf(last, names, states, now)
    const readings = isStale ? new Map<string, Reading>() : last.readings
    const changes = isStale ? new Map<string, number>() : last.changes
    for (const reading of read(ledger, now, due, left)) readings.set(reading.mark, reading)
    for (const [mark, rules] of Object.entries(due)) {
      changes.set(mark, nextChange(ledger, now, { [mark]: rules }) ?? Number.POSITIVE_INFINITY)
    }
    const isPast = isStale || now >= last.until
    const until = Math.min(
      ...(isPast ? changes.values() : [last.until, ...Object.keys(due).map(mark => changes.get(mark)!)]),
    )
    this.#last = { policy, left, marks, names, states, readings, at: now, changes, until }
    return readings
  }
}

/** What has another state than last time, or changes by now. */
function dueOf(last: Made, names: readonly string[], states: readonly MarkState[], now: number): HousePolicy {
  const due: Record<string, Policy> = {}
  const add = (mark: string) => {
    const policy = own(last.policy, mark)
    if (policy) due[mark] = policy
  }
  for (const [index, state] of states.entries()) if (state !== last.states[index]) add(names[index]!)
  if (now >= last.until) for (const [mark, time] of last.changes) if (now >= time) add(mark)
  return due
}
