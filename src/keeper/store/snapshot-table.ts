import { parseJson } from '../../text/parse-json.ts'
import { strictText } from './rows.ts'
import type { Sql } from './sqlite.ts'
import type { Rules } from './store-rules.ts'
import type { StoredEntries } from './stored-entries.ts'
import { sumOfSnapshot } from './sums.ts'

/** The ledger after an entry, kept so that a start need not count from the first. A cache: without it all is counted. */
export class SnapshotTable<Kept> {
  readonly #sql: Sql
  readonly #stored: StoredEntries
  readonly #insert

  constructor(sql: Sql, stored: StoredEntries) {
    this.#sql = sql
    this.#stored = stored
    this.#insert = sql.prepare('insert or replace into snapshot (only, seq, format, kept, sum) values (1, ?, ?, ?, ?)')
  }

  /** The entry after which it was made; 0 where there is none. */
  get seq(): number {
    return (this.#sql.prepare('select seq from snapshot').get([]) as { seq: number } | undefined)?.seq ?? 0
  }

  /** Undefined where it is damaged, was made by other rules, or is no ledger. */
  read({
    format,
    isKept,
  }: Pick<Rules<Kept>, 'format' | 'isKept'>): { readonly seq: number; readonly kept: Kept } | undefined {
    const query =
      'select seq, cast(format as blob) as format, cast(kept as blob) as kept, cast(sum as blob) as sum from snapshot'
    const found = this.#sql.prepare(query).get([]) as ({ seq: number } & Record<string, ArrayBuffer>) | undefined
    if (!found) return undefined
    const { seq } = found
    try {
      const [made, kept, sum] = [found.format!, found.kept!, found.sum!].map(strictText) as [string, string, string]
      const isWhole = sum === sumOfSnapshot(this.#stored.sumAt(seq), seq, made, kept)
      if (!isWhole || made !== format) return undefined
      const ledger = parseJson(kept)
      return isKept(ledger) ? { seq, kept: ledger } : undefined
    } catch {
      return undefined
    }
  }

  /** @param entrySum - of the entry after which it is made */
  write(seq: number, entrySum: string, format: string, kept: Kept): void {
    const text = JSON.stringify(kept)
    this.#insert.run([seq, format, text, sumOfSnapshot(entrySum, seq, format, text)])
  }
}
