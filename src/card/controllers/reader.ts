import type { Ledger, MarkState } from '../../ledger/apply.ts'
import { nextChange, read } from '../../ledger/read.ts'
import type { HousePolicy, Left, Policy, Reading } from '../../ledger/types.ts'

type LeftByMark = Readonly<Record<string, Left>>

/** Readings as they were last made, and when each changes by the passing of time. */
interface Made {
  readonly policy: HousePolicy
  readonly left: LeftByMark
  readonly marks: Readonly<Record<string, MarkState>>
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
    for (const mark of Object.keys(policy)) {
      const isDue = isStale || last.marks[mark] !== ledger.marks[mark] || now >= last.changes.get(mark)!
      if (isDue) due[mark] = policy[mark]!
    }
    const readings = new Map(isStale ? [] : last.readings)
    const changes = isStale ? new Map<string, number>() : last.changes
    for (const reading of read(ledger, now, due, left)) readings.set(reading.mark, reading)
    for (const [mark, rules] of Object.entries(due)) {
      changes.set(mark, nextChange(ledger, now, { [mark]: rules }) ?? Number.POSITIVE_INFINITY)
    }
    let until = Number.POSITIVE_INFINITY
    for (const time of changes.values()) if (time < until) until = time
    this.#last = { policy, left, marks: ledger.marks, readings, at: now, changes, until }
    return readings
  }
}
