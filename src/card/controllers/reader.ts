import type { Ledger, MarkState } from '../../ledger/apply.ts'
import { nextChange, read } from '../../ledger/read.ts'
import type { HousePolicy, Left, Policy, Reading } from '../../ledger/types.ts'

type LeftByMark = Readonly<Record<string, Left>>

/** Readings as they were last made, and when each changes by the passing of time. */
interface Made {
  readonly policy: HousePolicy
  readonly left: LeftByMark
  readonly marks: Readonly<Record<string, MarkState>>
  /** The marks of the policy, and what was read of each. */
  readonly names: readonly string[]
  readonly states: (MarkState | undefined)[]
  readonly readings: ReadonlyMap<string, Reading>
  readonly at: number
  readonly changes: Map<string, number>
  /** The first of them. */
  readonly until: number
}

/** Reads again only what changed since the last time, by a word, a forecast or the passing of time. */
export class Reader {
  #last: Made | undefined

  read(ledger: Ledger, policy: HousePolicy, left: LeftByMark, now: number): ReadonlyMap<string, Reading> {
    const last = this.#last
    const isStale = !last || last.policy !== policy || last.left !== left || now < last.at
    if (!isStale && last.marks === ledger.marks && now < last.until) return last.readings
    const due: Record<string, Policy> = {}
    const names = isStale ? Object.keys(policy) : last.names
    const states = isStale ? [] : last.states
    for (const [index, mark] of names.entries()) {
      const state = ledger.marks[mark]
      const isDue = isStale || states[index] !== state || (now >= last.until && now >= last.changes.get(mark)!)
      if (isDue) due[mark] = policy[mark]!
      states[index] = state
    }
    const readings = new Map(isStale ? [] : last.readings)
    const changes = isStale ? new Map<string, number>() : last.changes
    for (const reading of read(ledger, now, due, left)) readings.set(reading.mark, reading)
    for (const [mark, rules] of Object.entries(due)) {
      changes.set(mark, nextChange(ledger, now, { [mark]: rules }) ?? Number.POSITIVE_INFINITY)
    }
    let until = Number.POSITIVE_INFINITY
    for (const time of changes.values()) if (time < until) until = time
    this.#last = { policy, left, marks: ledger.marks, names, states, readings, at: now, changes, until }
    return readings
  }
}
