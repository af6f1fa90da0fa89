import { applyAll, type Ledger } from '../ledger/apply.ts'
import type { Entry } from '../protocol/entry.ts'
import type { HeardNote } from '../protocol/heard-note.ts'

/** What one transaction will keep. */
export class Draft {
  readonly entries: Entry[] = []
  readonly answers: { id: string; note: HeardNote }[] = []
  readonly refused: string[] = []
  #ledger: Ledger
  /** How many entries the ledger holds. */
  #counted = 0

  constructor(ledger: Ledger) {
    this.#ledger = ledger
  }

  /** The ledger after all entries, counted when it is looked at: once a batch, as a rule, for that copies the house. */
  get ledger(): Ledger {
    this.#ledger = applyAll(this.#ledger, this.entries.slice(this.#counted))
    this.#counted = this.entries.length
    return this.#ledger
  }

  /** Goes back, when called, to what stands now. */
  back(): () => void {
    const [ledger, counted, length] = [this.#ledger, this.#counted, this.entries.length]
    return () => {
      this.#ledger = ledger
      this.#counted = counted
      this.entries.length = length
    }
  }
}
