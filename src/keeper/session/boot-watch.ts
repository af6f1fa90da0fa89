import type { Ledger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import { MOST_MARKS } from '../../protocol/keeper-note.ts'
import { firstOf } from '../../text/lists.ts'

/**
 * Looks for boots that nobody heard while the keeper was away. A broker whose queue is full drops words although their
 * publishers were told that they came: only a boot count shows it.
 */
export class BootWatch {
  readonly #last = new Map<string, number>()
  /** Openings whose first live word after the gap has not come yet. */
  #unsure = new Set<string>()

  constructor(ledger: Ledger) {
    for (const [mark, { fold }] of Object.entries(ledger.marks)) {
      if (fold.boots !== undefined) this.#last.set(mark, fold.boots)
    }
    this.#unsure = new Set(this.#last.keys())
  }

  /** Words may have been lost until now: `queued` ones and the first live one may show it. */
  gap(): void {
    this.#unsure = new Set(this.#last.keys())
  }

  /** A sentence when boots are missing in these entries, and of which openings. */
  look(entries: readonly Entry[]): { readonly sentence: string; readonly marks: readonly string[] } | undefined {
    const missing: string[] = []
    const marks: string[] = []
    for (const { mark, what, how, boots } of entries) {
      if (boots === undefined || (what !== 'opened' && what !== 'closed') || how === 'retained' || how === 'said')
        continue
      const before = this.#last.get(mark)
      this.#last.set(mark, boots)
      const lost = before === undefined ? 0 : boots - before - 1
      if (lost > 0 && (how === 'queued' || this.#unsure.has(mark))) {
        marks.push(mark)
        missing.push(`${mark} booted ${lost} ${lost === 1 ? 'time' : 'times'} more than was heard`)
      }
      if (how === 'live') this.#unsure.delete(mark)
    }
    if (missing.length === 0) return undefined
    const sentence = `${firstOf(missing, 4)} while the keeper was away: the broker's queue may have been full, or the words did not get through`
    return { sentence, marks: [...new Set(marks)].slice(0, MOST_MARKS) }
  }
}
