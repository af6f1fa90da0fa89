import type { Entry } from '../../protocol/entry.ts'
import { type EntryFilter, whereOf } from './entry-filter.ts'
import { entryOf, ROW_BYTES, type RowBytes, rowOf, rowOfBytes, strictText } from './rows.ts'
import type { Sql } from './sqlite.ts'
import { StoreProblem, storeProblem } from './store-problem.ts'
import { FIRST_SUM, sumOfRow } from './sums.ts'

/** Entries looked through in one go: some 10 ms. */
const CHECK_SLICE = 1_000

/** An entry with its number in the order of commit. */
export interface NumberedEntry {
  readonly seq: number
  readonly entry: Entry
}

/** The table of entries. */
export class StoredEntries {
  readonly #sql: Sql
  readonly #path: string
  readonly #find
  readonly #insert

  constructor(sql: Sql, path: string) {
    this.#sql = sql
    this.#path = path
    this.#find = sql.prepare(`select ${ROW_BYTES} from entries where id = ?`)
    this.#insert = sql.prepare('insert into entries (seq, id, at, mark, body, sum) values (?, ?, ?, ?, ?, ?)')
  }

  /**
   * Adds entries behind entry `seq`, whose sum is `sum`; inside a transaction.
   * @returns the sum of the last one
   */
  add(seq: number, sum: string, entries: readonly Entry[]): string {
    let [number, last] = [seq, sum]
    for (const entry of entries) {
      const [id, at, mark, body] = rowOf(entry)
      number++
      last = sumOfRow(last, { seq: number, id, at, mark, body })
      this.#insert.run([number, id, at, mark, body, last])
    }
    return last
  }

  /** @throws StoreProblem where the row of that id cannot be read */
  find(id: string): Entry | undefined {
    const bytes = this.#find.get([id]) as RowBytes | undefined
    return bytes && this.#entryOf(bytes)
  }

  /** The number of the last entry; 0 where there is none. */
  get end(): number {
    return (this.#sql.prepare('select coalesce(max(seq), 0) as n from entries').get([]) as { n: number }).n
  }

  /** The sum that an entry carries; that before the first for 0. */
  sumAt(seq: number): string {
    if (seq === 0) return FIRST_SUM
    const found = this.#sql.prepare('select cast(sum as blob) as sum from entries where seq = ?').get([seq])
    return found ? textOr((found as { sum: ArrayBuffer }).sum) : ''
  }

  /**
   * Entries in the order of their commit.
   * @throws StoreProblem at a row that cannot be read
   */
  *matching(only: EntryFilter): IterableIterator<Entry> {
    const { where, values } = whereOf(only)
    for (const { entry } of this.#rows(`${where} order by seq`, values)) yield entry
  }

  /** The last entry that fits. */
  newest(only: EntryFilter): NumberedEntry | undefined {
    const { where, values } = whereOf(only)
    return [...this.#rows(`${where} order by seq desc limit 1`, values)][0]
  }

  *#rows(rest: string, values: readonly unknown[]): IterableIterator<NumberedEntry> {
    try {
      const found = this.#sql.prepare(`select ${ROW_BYTES} from entries ${rest}`).iterate([...values])
      for (const bytes of found as Iterable<RowBytes>) yield { seq: bytes.seq, entry: this.#entryOf(bytes) }
    } catch (error) {
      throw storeProblem(error, this.#path)
    }
  }

  /** Latest time of an entry, milliseconds since the epoch; undefined without one. */
  get lastAt(): number | undefined {
    return (this.#sql.prepare('select max(at) as at from entries').get([]) as { at: number | null }).at ?? undefined
  }

  /**
   * Looks whether the entries after `seq` are those that were committed, a slice at a time so that the caller can do
   * other work in between. Yields how far it came and the numbers that do not fit, of entries that are gone too.
   * @param end - the last entry there must be
   */
  *check(seq: number, end: number): Generator<{ readonly checked: number; readonly wrong: readonly number[] }> {
    let before = this.sumAt(seq)
    for (let from = seq + 1; from <= end; from += CHECK_SLICE) {
      const to = Math.min(end, from + CHECK_SLICE - 1)
      const query = `select ${ROW_BYTES} from entries where seq between ? and ? order by seq`
      const rows = new Map((this.#sql.prepare(query).all([from, to]) as RowBytes[]).map(row => [row.seq, row]))
      const wrong: number[] = []
      for (let n = from; n <= to; n++) {
        const bytes = rows.get(n)
        if (!bytes || !fits(before, bytes)) wrong.push(n)
        before = bytes ? textOr(bytes.sum) : ''
      }
      yield { checked: to, wrong }
    }
  }

  /** @throws StoreProblem `damaged` with the first entry after `seq` that is not what was committed */
  mustFit(seq: number, end: number): void {
    for (const { wrong } of this.check(seq, end)) {
      if (wrong[0] === undefined) continue
      const where = `${this.#path}: entry ${wrong[0]} is not what was kept`
      throw new StoreProblem('damaged', `${where}: run \`sashtally mend\` on its folder`)
    }
  }

  #entryOf(bytes: RowBytes): Entry {
    try {
      return entryOf(rowOfBytes(bytes))
    } catch (error) {
      const where = `${this.#path}: entry ${bytes.seq} cannot be read`
      throw new StoreProblem('damaged', `${where}: run \`sashtally mend\` on its folder`, { cause: error })
    }
  }
}

/** Whether a row is the one that was committed after the entry whose sum is `before`. */
function fits(before: string, bytes: RowBytes): boolean {
  try {
    const { sum, ...row } = rowOfBytes(bytes)
    return sumOfRow(before, row) === sum
  } catch {
    return false
  }
}

function textOr(bytes: ArrayBuffer): string {
  try {
    return strictText(bytes)
  } catch {
    return ''
  }
}
