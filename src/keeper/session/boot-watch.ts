import type { Ledger } from '../../ledger/apply.ts'
import type { Entry } from '../../protocol/entry.ts'
import { MOST_MARKS } from '../../protocol/keeper-note.ts'
import { firstOf } from '../../text/lists.ts'
import { own } from '../../text/own.ts'
import { MINUTE } from '../../text/time.ts'

/**
 * Looks for boots that nobody heard while the keeper was away. A broker whose queue is full drops words although their
 * publishers were told that they came: only a boot count shows it.
 */
export class BootWatch {
  /** The highest boot count of each opening. */
  readonly #last = new Map<string, number>()
  /** Marks and boot counts of words that came on test. */
  readonly #tested = new Set<string>()
  /** Openings whose first live word after the gap has not come yet. */
  #unsure = new Set<string>()
  /** How many are missing that nobody was told of, in the order in which it was found out. */
  readonly #untold = new Map<string, number>()
  /** When each opening was last told of, monotonic milliseconds. */
  readonly #toldAt = new Map<string, number>()

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

  /** @param ledger - after the entries; whether a count was passed or began anew is its rule */
  look(entries: readonly Entry[], { marks }: Ledger): void {
    for (const { mark, what, how, boots } of entries) {
      if (boots === undefined || (what !== 'opened' && what !== 'closed') || how === 'retained' || how === 'said')
        continue
      const fold = own(marks, mark)?.fold
      const before = this.#last.get(mark)
      if (fold?.boots !== undefined) this.#last.set(mark, fold.boots)
      // A test counts nothing, and was heard.
      if (how === 'tested') {
        this.#tested.add(`${mark} ${boots}`)
        continue
      }
      const isLost = (passed: number): boolean => passed > (before ?? passed) && !this.#tested.has(`${mark} ${passed}`)
      const lost = fold?.unheardBoots?.filter(isLost).length ?? 0
      if (lost > 0 && (how === 'queued' || this.#unsure.has(mark))) {
        this.#untold.set(mark, (this.#untold.get(mark) ?? 0) + lost)
      }
      if (how === 'live') this.#unsure.delete(mark)
    }
  }

  /**
   * A sentence where boots are missing, and of which openings; each is told of once a minute at most.
   * @param now - monotonic milliseconds; infinite: of all that is left
   */
  due(now: number): { readonly sentence: string; readonly marks: readonly string[] } | undefined {
    const isDue = (mark: string): boolean => now - (this.#toldAt.get(mark) ?? Number.NEGATIVE_INFINITY) >= MINUTE
    const due = [...this.#untold].filter(([mark]) => isDue(mark))
    if (due.length === 0) return undefined
    for (const [mark] of due) {
      this.#untold.delete(mark)
      this.#toldAt.set(mark, now)
    }
    const missing = due.map(
      ([mark, lost]) => `${mark} booted ${lost} ${lost === 1 ? 'time' : 'times'} more than was heard`,
    )
    const sentence = `${firstOf(missing, 4)} while the keeper was away: the broker's queue may have been full, or the words did not get through`
    return { sentence, marks: due.slice(0, MOST_MARKS).map(([mark]) => mark) }
  }
}
