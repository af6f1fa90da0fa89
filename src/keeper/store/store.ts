import { join } from 'node:path'
import type { Entry } from '../../protocol/entry.ts'
import type { Taken } from '../session/taken.ts'
import type { EntryFilter } from './entry-filter.ts'
import { factIn } from './facts.ts'
import { LastAnswered } from './last-answered.ts'
import { LogFlush } from './log-flush.ts'
import { ensureTables, TALLY_FILE } from './schema.ts'
import { SmallTables } from './small-tables.ts'
import { SnapshotTable } from './snapshot-table.ts'
import { closeSqlite, copyInto, inTransaction, openMemory, openSqlite, type Sql } from './sqlite.ts'
import { beginFile, fileNumber, mustBeInPlace, mustHoldAnswered, mustNotBeEmpty } from './store-file.ts'
import { storeProblem } from './store-problem.ts'
import type { Batch, Rules } from './store-rules.ts'
import { type NumberedEntry, StoredEntries } from './stored-entries.ts'

/** Entries after which a snapshot is written: bounds what a start replays. */
const SNAPSHOT_EVERY = 1_000

/** The last entries that a start looks at again. */
const CHECKED_AT_START = 1_000

/** Entries counted in one go: some 10 ms. */
const RECOUNT_SLICE = 250

/**
 * The tally on disk: entries for good, and the ledger they add up to.
 * @see schema.ts for the format
 */
export class TallyStore<Kept> {
  readonly #sql: Sql
  #rules: Rules<Kept>
  readonly #path: string
  readonly #stored: StoredEntries
  readonly #snapshot: SnapshotTable<Kept>
  readonly #tables: SmallTables
  readonly #last: LastAnswered | undefined
  readonly #log: LogFlush
  /** Which file was opened: another one in its place would take words and lose them. */
  readonly #file: string
  #seq = 0
  #sum = ''
  #answeredSeq = 0
  #snapshotSeq = 0

  /** @throws StoreProblem when the file is damaged, not a tally or from a newer version */
  constructor(sql: Sql, rules: Rules<Kept>, path: string = TALLY_FILE, last?: LastAnswered) {
    this.#sql = sql
    this.#rules = rules
    this.#path = path
    this.#last = last
    this.#log = new LogFlush(sql, path)
    ensureTables(sql, path)
    this.#file = fileNumber(path)
    this.#stored = new StoredEntries(sql, path)
    this.#snapshot = new SnapshotTable(sql, this.#stored)
    this.#tables = new SmallTables(sql)
    this.#guard(() => {
      this.#seq = this.#stored.end
      this.#answeredSeq = this.#seq
      this.#sum = this.#stored.sumAt(this.#seq)
      this.#snapshotSeq = this.#snapshot.seq
    })
  }

  /**
   * Opens the tally of a data folder; `write` makes it when it is not there.
   * @throws StoreProblem in a sentence for the person
   */
  static open<Kept>(folder: string, mode: 'write' | 'read', rules: Rules<Kept>): TallyStore<Kept> {
    const path = join(folder, TALLY_FILE)
    const last = new LastAnswered(path)
    if (mode === 'write') beginFile(path, last)
    else mustNotBeEmpty(path)
    const sql = openSqlite(path, mode)
    try {
      const store = new TallyStore(sql, rules, path, last)
      if (mode === 'write') mustHoldAnswered(path, last, store.length, seq => store.#stored.sumAt(seq))
      return store
    } catch (error) {
      sql.close()
      throw error
    }
  }

  /** A tally that is gone when it is closed. */
  static inMemory<Kept>(rules: Rules<Kept>, entries: readonly Entry[]): TallyStore<Kept> {
    const store = new TallyStore(openMemory(), rules, ':memory:')
    store.commitBatch({ entries })
    return store
  }

  /** Number of entries, retained copies and notes included. */
  get length(): number {
    return this.#seq
  }

  /**
   * The ledger after the last entry: the snapshot and what came after it, or all entries where there is none that fits.
   * What is replayed, and the last entries before it, must be what was committed.
   * @param bornIso - start of the count where the store does not know it yet
   * @throws StoreProblem `damaged` with the first entry that does not fit
   */
  replay(bornIso: string): { kept: Kept; replayed: number } {
    return this.#guard(() => {
      const usable = this.#snapshot.read(this.#rules)
      const from = Math.min(usable?.seq ?? 0, Math.max(0, this.#seq - CHECKED_AT_START))
      this.#stored.mustFit(from, this.#seq)
      const start = usable ? usable.kept : this.#rules.start(this.#born(bornIso))
      const after = usable?.seq ?? 0
      const kept = this.#rules.apply(start, this.entries({ from: after + 1 }))
      return { kept, replayed: this.#stored.end - after }
    })
  }

  /** Looks through all entries, a slice at a time; yields the numbers of those that are not what was committed. */
  *check(): Generator<{ readonly checked: number; readonly wrong: readonly number[] }> {
    yield* this.#stored.check(0, this.#seq)
  }

  /**
   * Counts every entry again under new rules, a slice at a time so that the caller can do other work in between.
   * Entries must not be committed meanwhile. Afterwards the store goes on under these rules.
   */
  *recount(rules: Rules<Kept>): Generator<{ counted: number }, Kept> {
    this.#rules = rules
    let kept = rules.start(this.#born(''))
    for (let from = 1; from <= this.#seq; from += RECOUNT_SLICE) {
      kept = rules.apply(kept, this.entries({ from, to: from + RECOUNT_SLICE }))
      yield { counted: Math.min(this.#seq, from + RECOUNT_SLICE - 1) }
    }
    this.commitBatch({ entries: [], kept, snapshot: true })
    return kept
  }

  /** A tally that was filled from elsewhere began with its first entry. */
  #born(bornIso: string): string {
    return factIn(this, 'born') ?? (this.#seq === 0 ? bornIso : '')
  }

  /** Counting begins: kept for good, unless there are entries already. */
  begin(bornIso: string): void {
    if (this.#seq > 0 || this.fact('born') !== undefined) return
    this.#guard(() => inTransaction(this.#sql, () => this.#tables.setFact('born', bornIso)))
  }

  /** @throws StoreProblem when nothing of the batch was kept; an `id` that stands already is refused */
  commitBatch(batch: Batch<Kept>): void {
    this.#write(batch, true)
    this.answered()
  }

  /**
   * As `commitBatch`, and the disk is waited for beside the event loop; one batch at a time, and `answered` follows. Where
   * that fails the batch stands, and may not be on the disk: `settle` is to be called until it does not throw.
   * @returns resolves when the batch is on the disk
   * @throws StoreProblem at once when nothing of the batch was kept
   */
  commitBeside(batch: Batch<Kept>): Promise<void> {
    this.#write(batch, false)
    return this.#log.flush()
  }

  /** @throws StoreProblem when the disk refuses */
  settle(): void {
    this.#guard(() => this.#log.moveIn())
  }

  /** All that was committed is on the disk. */
  answered(): void {
    if (this.#seq !== this.#answeredSeq) this.#last?.write({ seq: this.#seq, sum: this.#sum })
    this.#answeredSeq = this.#seq
  }

  #write(batch: Batch<Kept>, isWaitedFor: boolean): void {
    const seq = this.#seq + batch.entries.length
    const { kept } = batch
    const snapshot = kept !== undefined && (batch.snapshot || seq - this.#snapshotSeq >= SNAPSHOT_EVERY)
    let sum = this.#sum
    mustBeInPlace(this.#path, this.#file)
    this.#guard(() => {
      this.#log.wait(isWaitedFor)
      inTransaction(this.#sql, () => {
        sum = this.#stored.add(this.#seq, this.#sum, batch.entries)
        this.#tables.keep(batch)
        if (snapshot) this.#snapshot.write(seq, sum, this.#rules.format, kept)
      })
    })
    this.#seq = seq
    this.#sum = sum
    if (snapshot) this.#snapshotSeq = seq
  }

  /** Latest time of an entry, milliseconds; undefined in an empty store. */
  lastAt(): number | undefined {
    return this.#guard(() => this.#stored.lastAt)
  }

  /** Entries that a start would replay. */
  get tail(): number {
    return this.#seq - this.#snapshotSeq
  }

  find(id: string): Entry | undefined {
    return this.#guard(() => this.#stored.find(id))
  }

  /** The last entry that fits. */
  newest(only: EntryFilter): NumberedEntry | undefined {
    return this.#guard(() => this.#stored.newest(only))
  }

  /** Entries in the order of their commit. */
  entries(only: EntryFilter = {}): IterableIterator<Entry> {
    return this.#stored.matching(only)
  }

  taken(): Taken[] {
    return this.#guard(() => this.#tables.taken())
  }

  fact(name: string): string | undefined {
    return this.#guard(() => this.#tables.fact(name))
  }

  /** A whole and consistent copy, also while entries are being written. The target must not exist. */
  backup(path: string): void {
    this.#guard(() => copyInto(this.#sql, path))
  }

  /** At once, where nothing is on its way to the disk. */
  async close(): Promise<void> {
    await this.#log.close(() => {
      this.#last?.close()
      closeSqlite(this.#sql)
    })
  }

  #guard<T>(work: () => T): T {
    try {
      return work()
    } catch (error) {
      throw storeProblem(error, this.#path)
    }
  }
}
