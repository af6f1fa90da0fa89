import { join } from 'node:path'
import type { Store } from '../ledger/store.ts'
import type { Entry } from '../protocol/entry.ts'
import type { Taken } from './redelivery.ts'
import { entryOf, type Row, rowOf } from './rows.ts'
import { ensureTables, TALLY_FILE } from './schema.ts'
import { closeSqlite, inTransaction, openSqlite, type Sql, StoreProblem, storeProblem } from './sqlite.ts'

/** How entries add up; the store itself knows nothing of windows. */
export interface Rules<Kept> {
  /** Names the shape of `Kept`: a snapshot with another name is thrown away and built again from the entries. */
  readonly format: string
  start(bornIso: string): Kept
  apply(kept: Kept, entry: Entry): Kept
}

/** One transaction: everything here is on the disk together or not at all. */
export interface Batch<Kept> {
  readonly entries: readonly Entry[]
  /** The ledger after them; absent: no snapshot is due, the next start replays them. */
  readonly kept?: Kept
  /** Empties the list of the last session first. */
  readonly newSession?: boolean
  /** Messages of the session, and the first turn that is still remembered. */
  readonly taken?: { readonly taken: readonly Taken[]; readonly keepFrom: number }
  readonly facts?: Readonly<Record<string, string>>
}

/** Entries after which a snapshot is written: bounds what a start replays. */
const SNAPSHOT_EVERY = 1_000

/** Entries counted in one go: some 10 ms. */
const RECOUNT_SLICE = 250

/**
 * The tally on disk: entries for good, and the ledger they add up to.
 * @see schema.ts for the format
 */
export class TallyStore<Kept> implements Store<Kept> {
  readonly #sql: Sql
  #rules: Rules<Kept>
  readonly #path: string
  #seq = 0
  #snapshotSeq = 0
  readonly #insert
  readonly #find

  /** @throws StoreProblem when the file is damaged, not a tally or from a newer version */
  constructor(sql: Sql, rules: Rules<Kept>, path: string = TALLY_FILE) {
    this.#sql = sql
    this.#rules = rules
    this.#path = path
    ensureTables(sql, path)
    this.#insert = sql.prepare('insert into entries (seq, id, at, mark, body) values (?, ?, ?, ?, ?)')
    this.#find = sql.prepare('select id, at, mark, body from entries where id = ?')
    this.#guard(() => {
      this.#seq = this.#one<{ n: number | null }>('select max(seq) as n from entries')?.n ?? 0
      this.#snapshotSeq = this.#one<{ seq: number }>('select seq from snapshot')?.seq ?? 0
    })
  }

  /**
   * Opens the tally of a data folder; `write` makes it when it is not there.
   * @throws StoreProblem in a sentence for the person
   */
  static open<Kept>(folder: string, mode: 'write' | 'read', rules: Rules<Kept>): TallyStore<Kept> {
    const path = join(folder, TALLY_FILE)
    const sql = openSqlite(path, mode)
    try {
      return new TallyStore(sql, rules, path)
    } catch (error) {
      sql.close()
      throw error
    }
  }

  /** Number of entries, retained copies and notes included. */
  get length(): number {
    return this.#seq
  }

  async load(): Promise<Kept | undefined> {
    return this.#seq === 0 ? undefined : this.replay('').kept
  }

  /**
   * The ledger after the last entry: the snapshot and what came after it, or all entries where there is none.
   * @param bornIso - start of the count where the store does not know it yet
   */
  replay(bornIso: string): { kept: Kept; replayed: number } {
    return this.#guard(() => {
      const found = this.#one<{ seq: number; format: string; kept: string }>('select seq, format, kept from snapshot')
      const usable = found?.format === this.#rules.format ? found : undefined
      let kept = usable ? (JSON.parse(usable.kept) as Kept) : this.#rules.start(this.#born(bornIso))
      let replayed = 0
      for (const { entry } of this.#rows('where seq > ? order by seq', [usable?.seq ?? 0])) {
        kept = this.#rules.apply(kept, entry)
        replayed++
      }
      return { kept, replayed }
    })
  }

  /**
   * Counts every entry again under new rules, a slice at a time so that the caller can do other work in between.
   * Entries must not be committed meanwhile. Afterwards the store goes on under these rules.
   */
  *recount(rules: Rules<Kept>): Generator<{ counted: number }, Kept> {
    this.#rules = rules
    let kept = rules.start(this.#born(''))
    for (let from = 1; from <= this.#seq; from += RECOUNT_SLICE) {
      const rows = this.#rows('where seq >= ? and seq < ? order by seq', [from, from + RECOUNT_SLICE])
      for (const { entry } of rows) kept = rules.apply(kept, entry)
      yield { counted: Math.min(this.#seq, from + RECOUNT_SLICE - 1) }
    }
    this.checkpoint(kept)
    return kept
  }

  /** A tally that was filled from elsewhere began with its first entry. */
  #born(bornIso: string): string {
    return this.fact('born') ?? (this.#seq === 0 ? bornIso : '')
  }

  /** Counting begins: kept for good, unless there are entries already. */
  begin(bornIso: string): void {
    if (this.#seq > 0 || this.fact('born') !== undefined) return
    this.#guard(() => inTransaction(this.#sql, () => this.#setFact('born', bornIso)))
  }

  async commit(entries: readonly Entry[], kept: Kept): Promise<void> {
    this.commitBatch({ entries, kept })
  }

  /** @throws StoreProblem when nothing of the batch was kept; an `id` that stands already is refused */
  commitBatch(batch: Batch<Kept>): void {
    const seq = this.#seq + batch.entries.length
    const { kept } = batch
    const snapshot = kept !== undefined && seq - this.#snapshotSeq >= SNAPSHOT_EVERY
    this.#guard(() =>
      inTransaction(this.#sql, () => {
        batch.entries.forEach((entry, index) => {
          this.#insert.run([this.#seq + 1 + index, ...rowOf(entry)])
        })
        if (batch.newSession) this.#run('delete from taken', [])
        for (const { turn, batch: number, packet, print } of batch.taken?.taken ?? []) {
          this.#run('insert into taken (turn, batch, packet, print) values (?, ?, ?, ?)', [turn, number, packet, print])
        }
        if (batch.taken) this.#run('delete from taken where turn < ?', [batch.taken.keepFrom])
        for (const [name, value] of Object.entries(batch.facts ?? {})) this.#setFact(name, value)
        if (snapshot) this.#snapshot(seq, kept)
      }),
    )
    this.#seq = seq
    if (snapshot) this.#snapshotSeq = seq
  }

  /**
   * Adds entries from elsewhere, all or none; everything is counted again at the next start, from the first of them if
   * that is older than the count.
   */
  addAll(entries: readonly Entry[]): void {
    const born = this.fact('born')
    const first = entries.reduce<string | undefined>((least, { at }) => (least && least < at ? least : at), undefined)
    this.#guard(() =>
      inTransaction(this.#sql, () => {
        entries.forEach((entry, index) => {
          this.#insert.run([this.#seq + 1 + index, ...rowOf(entry)])
        })
        this.#run('delete from snapshot', [])
        if (born !== undefined && first !== undefined && first < born) this.#setFact('born', first)
      }),
    )
    this.#seq += entries.length
    this.#snapshotSeq = 0
  }

  /** Latest time of an entry, milliseconds; undefined in an empty store. */
  lastAt(): number | undefined {
    return this.#guard(() => this.#one<{ at: number | null }>('select max(at) as at from entries')?.at ?? undefined)
  }

  /** Writes the snapshot now: when the house is quiet, at the end, and after a recount. */
  checkpoint(kept: Kept): void {
    this.#guard(() => inTransaction(this.#sql, () => this.#snapshot(this.#seq, kept)))
    this.#snapshotSeq = this.#seq
  }

  /** Entries that a start would replay. */
  get tail(): number {
    return this.#seq - this.#snapshotSeq
  }

  find(id: string): Entry | undefined {
    return this.#guard(() => {
      const row = this.#find.get([id]) as Row | undefined
      return row && entryOf(row)
    })
  }

  async story(mark: string, limit: number): Promise<readonly Entry[]> {
    const rows = [...this.#rows('where mark = ? order by seq desc limit ?', [mark, limit])]
    return rows.map(row => row.entry).reverse()
  }

  /** Entries in the order of their commit; `sinceMs` (inclusive) and `mark` narrow it. */
  *entries(only: { mark?: string; sinceMs?: number } = {}): IterableIterator<Entry> {
    const where = [only.mark === undefined ? '' : 'mark = ?', only.sinceMs === undefined ? '' : 'at >= ?'].filter(
      Boolean,
    )
    const values = [only.mark, only.sinceMs].filter(value => value !== undefined)
    const rows = this.#rows(`${where.length ? `where ${where.join(' and ')}` : ''} order by seq`, values)
    for (const row of rows) yield row.entry
  }

  taken(): Taken[] {
    return this.#guard(
      () => this.#sql.prepare('select turn, batch, packet, print from taken order by turn').all([]) as Taken[],
    )
  }

  fact(name: string): string | undefined {
    return this.#guard(() => this.#one<{ value: string }>('select value from facts where name = ?', [name])?.value)
  }

  /** A whole and consistent copy, also while entries are being written. The target must not exist. */
  backup(path: string): void {
    this.#guard(() => {
      const { query_only: reading } = this.#one<{ query_only: number }>('pragma query_only')!
      this.#sql.exec('pragma query_only = 0')
      try {
        this.#run('vacuum into ?', [path])
      } finally {
        this.#sql.exec(`pragma query_only = ${reading}`)
      }
    })
  }

  async close(): Promise<void> {
    closeSqlite(this.#sql)
  }

  *#rows(rest: string, values: readonly unknown[]): IterableIterator<{ seq: number; entry: Entry }> {
    try {
      const found = this.#sql.prepare(`select seq, id, at, mark, body from entries ${rest}`).iterate([...values])
      for (const row of found as Iterable<Row>) yield { seq: row.seq, entry: this.#entryOf(row) }
    } catch (error) {
      throw storeProblem(error, this.#path)
    }
  }

  #entryOf(row: Row): Entry {
    try {
      return entryOf(row)
    } catch (error) {
      const where = `${this.#path}: entry ${row.seq} cannot be read`
      throw new StoreProblem('damaged', `${where}: run \`sashtally mend\` on its folder`, { cause: error })
    }
  }

  #snapshot(seq: number, kept: Kept): void {
    this.#run('insert or replace into snapshot (only, seq, format, kept) values (1, ?, ?, ?)', [
      seq,
      this.#rules.format,
      JSON.stringify(kept),
    ])
  }

  #setFact(name: string, value: string): void {
    this.#run('insert or replace into facts (name, value) values (?, ?)', [name, value])
  }

  #one<T>(query: string, values: readonly unknown[] = []): T | undefined {
    return this.#sql.prepare(query).get([...values]) as T | undefined
  }

  readonly #made = new Map<string, ReturnType<Sql['prepare']>>()
  #run(query: string, values: readonly unknown[]): void {
    let made = this.#made.get(query)
    if (!made) {
      made = this.#sql.prepare(query)
      this.#made.set(query, made)
    }
    made.run([...values])
  }

  #guard<T>(work: () => T): T {
    try {
      return work()
    } catch (error) {
      throw storeProblem(error, this.#path)
    }
  }
}
