import { copyFileSync, existsSync, renameSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import type { Entry } from '../ledger/types.ts'
import { takeLock } from './lock.ts'
import { entryOf, type Row, rowOf } from './rows.ts'
import { ensureTables, TALLY_FILE } from './schema.ts'
import { closeSqlite, inTransaction, openSqlite, type Sql, StoreProblem } from './sqlite.ts'

/** What a check found and what a repair did; `problems` is empty for a sound store. */
export interface Mended {
  readonly problems: readonly string[]
  /** Entries that stand in the store now. */
  readonly entries: number
  /** Places in the order of commit whose entries could not be read, as [first, last]. */
  readonly lost: readonly (readonly [number, number])[]
  /** The damaged file as it was; absent when nothing was changed. */
  readonly savedAs?: string
}

/**
 * Checks the tally of a data folder. Where it is damaged the file is copied aside first, every entry that can still be
 * read goes to a new file, and that takes its place; the ledger is counted again at the next start.
 * @param stamp - goes into the name of the copy
 * @throws StoreProblem when a keeper is running there, or when there is no tally, or one from a newer version
 */
export function mendStore(folder: string, stamp: string): Mended {
  const path = join(folder, TALLY_FILE)
  if (!existsSync(path)) throw new StoreProblem('missing', `${path}: there is no tally here yet`)
  const lock = takeLock(folder, stamp)
  try {
    const problems = look(path)
    if (problems.length > 0) return repair(path, stamp, problems)
    const sql = openSqlite(path, 'read')
    const { n } = sql.prepare('select count(*) as n from entries').get([]) as { n: number }
    sql.close()
    return { problems, entries: n, lost: [] }
  } finally {
    lock.release()
  }
}

function look(path: string): string[] {
  const sql = openSqlite(path, 'read')
  try {
    ensureTables(sql, path)
    const found = sql.prepare('pragma integrity_check(20)').all([]) as { integrity_check: string }[]
    const problems = found.map(row => row.integrity_check).filter(line => line !== 'ok')
    if (problems.length > 0) return problems
    for (const row of sql
      .prepare('select seq, id, at, mark, body from entries order by seq')
      .iterate([]) as Iterable<Row>) {
      if (!readable(row)) problems.push(`entry ${row.seq} cannot be read`)
    }
    return problems
  } catch (error) {
    if (error instanceof StoreProblem && error.fault !== 'damaged') throw error
    return [error instanceof Error ? error.message : String(error)]
  } finally {
    sql.close()
  }
}

function readable(row: Row): Entry | undefined {
  try {
    const entry = entryOf(row)
    return typeof entry.what === 'string' && typeof entry.how === 'string' ? entry : undefined
  } catch {
    return undefined
  }
}

function repair(path: string, stamp: string, problems: readonly string[]): Mended {
  const savedAs = `${path}.damaged-${stamp.replaceAll(/[^0-9A-Za-z]/g, '')}`
  for (const end of ['', '-wal']) if (existsSync(path + end)) copyFileSync(path + end, savedAs + end)
  const fresh = `${path}.mended`
  for (const end of ['', '-wal', '-shm']) rmSync(fresh + end, { force: true })
  const old = openSqlite(path, 'read')
  const sql = openSqlite(fresh, 'write')
  ensureTables(sql, fresh)
  const insert = sql.prepare('insert or ignore into entries (seq, id, at, mark, body) values (?, ?, ?, ?, ?)')
  let entries = 0
  let last = 0
  const lost: [number, number][] = []
  inTransaction(sql, () => {
    for (const { seq, entry } of salvage(old)) {
      if (seq > last + 1) lost.push([last + 1, seq - 1])
      entries += insert.run([seq, ...rowOf(entry)]).changes
      last = seq
    }
    copyFacts(old, sql)
  })
  closeSqlite(sql)
  old.close()
  for (const end of ['-wal', '-shm']) rmSync(path + end, { force: true })
  renameSync(fresh, path)
  for (const end of ['-wal', '-shm']) rmSync(fresh + end, { force: true })
  return { problems, entries, lost, savedAs }
}

/** Every entry that can be read: straight on where the file is sound, one by one round what is damaged. */
function* salvage(sql: Sql): IterableIterator<{ seq: number; entry: Entry }> {
  const top = highest(sql)
  const one = sql.prepare('select seq, id, at, mark, body from entries where seq = ?')
  const some = sql.prepare('select seq, id, at, mark, body from entries where seq >= ? and seq < ? order by seq')
  for (let from = 1; from <= top; from += 256) {
    let rows: Row[]
    try {
      rows = some.all([from, from + 256]) as Row[]
    } catch {
      rows = []
      for (let seq = from; seq < from + 256 && seq <= top; seq++) {
        try {
          rows.push(...(one.all([seq]) as Row[]))
        } catch {
          // This entry stands on the damaged page.
        }
      }
    }
    for (const row of rows) {
      const entry = readable(row)
      if (entry) yield { seq: row.seq, entry }
    }
  }
}

/** The highest number that may stand in the table, found also when its last page is damaged. */
function highest(sql: Sql): number {
  const tries = [
    'select max(seq) as n from entries',
    "select max(seq) as n from entries indexed by entries_by_mark where mark > ''",
  ]
  let top = 0
  for (const query of tries) {
    try {
      top = Math.max(top, (sql.prepare(query).get([]) as { n: number | null }).n ?? 0)
    } catch {
      // The other way may still be sound.
    }
  }
  if (top > 0) return top
  const one = sql.prepare('select seq from entries where seq >= ? order by seq limit 1')
  for (let step = 2 ** 32; step >= 1; step /= 2) {
    try {
      while (one.get([top + step])) top += step
    } catch {
      // Damaged from here on at this step: try a smaller one.
    }
  }
  return top
}

function copyFacts(from: Sql, to: Sql): void {
  try {
    for (const row of from.prepare('select name, value from facts').all([]) as { name: string; value: string }[]) {
      to.prepare('insert into facts (name, value) values (?, ?)').run([row.name, row.value])
    }
  } catch {
    // Without them the count begins with the first entry.
  }
}
