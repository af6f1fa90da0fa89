import type { Ledger, MarkState } from '../../ledger/apply.ts'
import { nextChange, read } from '../../ledger/read.ts'
import type { HousePolicy, Left, Reading } from '../../ledger/types.ts'

type LeftByMark = Readonly<Record<string, Left>>

/** Readings as they were last made, and when they change by themselves. */
interface Made {
  readonly policy: HousePolicy
  readonly left: LeftByMark
  readonly marks: Readonly<Record<string, MarkState>>
  readonly readings: ReadonlyMap<string, Reading>
  readonly at: number
  readonly until: number
}

/** Reads again only what changed since the last time, by a word, a forecast or the passing of time. */
export class Reader {
  #last: Made | undefined

  read(ledger: Ledger, policy: HousePolicy, left: LeftByMark, now: number): ReadonlyMap<string, Reading> {
    const last = this.#last
    const isStale = !last || last.policy !== policy || last.left !== left || now < last.at || now >= last.until
    if (!isStale && last.marks === ledger.marks) return last.readings
    const changed = isStale
      ? policy
      : Object.fromEntries(Object.entries(policy).filter(([mark]) => last.marks[mark] !== ledger.marks[mark]))
    const fresh = read(ledger, now, changed, left).map(reading => [reading.mark, reading] as const)
    const readings = isStale ? new Map(fresh) : new Map([...last.readings, ...fresh])
    const soon = nextChange(ledger, now, changed) ?? Number.POSITIVE_INFINITY
    const until = isStale ? soon : Math.min(soon, last.until)
    this.#last = { policy, left, marks: ledger.marks, readings, at: now, until }
    return readings
  }
}
