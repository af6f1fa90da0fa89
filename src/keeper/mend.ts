import { copyFileSync, existsSync, renameSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { takeLock } from './lock.ts'
import { type Row, rowOf } from './rows.ts'
import { readable, salvage } from './salvage.ts'
import { ensureTables, TALLY_FILE } from './schema.ts'
import { closeSqlite, inTransaction, openSqlite, type Sql, StoreProblem, storeProblem } from './sqlite.ts'

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
    return { problems, entries: count(path), lost: [] }
  } finally {
    lock.release()
  }
}

function count(path: string): number {
  const sql = openSqlite(path, 'read')
  try {
    return (sql.prepare('select count(*) as n from entries').get([]) as { n: number }).n
  } finally {
    sql.close()
  }
}

function look(path: string): string[] {
  let sql: Sql | undefined
  try {
    sql = openSqlite(path, 'read')
    ensureTables(sql, path)
    const found = sql.prepare('pragma integrity_check(20)').all([]) as { integrity_check: string }[]
    const problems = found.map(row => row.integrity_check).filter(line => line !== 'ok')
    if (problems.length > 0) return problems
    const rows = sql.prepare('select seq, id, at, mark, body from entries order by seq').iterate([]) as Iterable<Row>
    for (const row of rows) if (!readable(row)) problems.push(`entry ${row.seq} cannot be read`)
    return problems
  } catch (error) {
    const problem = storeProblem(error, path)
    if (problem instanceof StoreProblem && !['damaged', 'foreign', 'input-output'].includes(problem.fault))
      throw problem
    return [problem instanceof Error ? problem.message : String(problem)]
  } finally {
    sql?.close()
  }
}

function repair(path: string, stamp: string, problems: readonly string[]): Mended {
  const savedAs = `${path}.damaged-${stamp.replaceAll(/[^0-9A-Za-z]/g, '')}`
  for (const end of ['', '-wal']) if (existsSync(path + end)) copyFileSync(path + end, savedAs + end)
  const rescued = salvage(path)
  if (rescued.length === 0) {
    throw new StoreProblem('damaged', `${path}: not one entry could be read; nothing was changed, a copy is ${savedAs}`)
  }
  const fresh = `${path}.mended`
  for (const end of ['', '-wal', '-shm']) rmSync(fresh + end, { force: true })
  const { entries, lost } = fill(fresh, path, rescued)
  for (const end of ['-wal', '-shm']) rmSync(path + end, { force: true })
  renameSync(fresh, path)
  for (const end of ['-wal', '-shm']) rmSync(fresh + end, { force: true })
  return { problems, entries, lost, savedAs }
}

/** Writes what was rescued from `path` to a new file. */
function fill(fresh: string, path: string, rescued: ReturnType<typeof salvage>): Pick<Mended, 'entries' | 'lost'> {
  const sql = openSqlite(fresh, 'write')
  try {
    ensureTables(sql, fresh)
    const insert = sql.prepare('insert or ignore into entries (seq, id, at, mark, body) values (?, ?, ?, ?, ?)')
    let entries = 0
    let last = 0
    const lost: [number, number][] = []
    inTransaction(sql, () => {
      for (const { seq, entry } of rescued) {
        if (seq > last + 1) lost.push([last + 1, seq - 1])
        entries += insert.run([seq, ...rowOf(entry)]).changes
        last = seq
      }
      copyFacts(path, sql)
    })
    return { entries, lost }
  } catch (error) {
    throw storeProblem(error, fresh)
  } finally {
    closeSqlite(sql)
  }
}

function copyFacts(path: string, to: Sql): void {
  let from: Sql | undefined
  try {
    from = openSqlite(path, 'read')
    for (const row of from.prepare('select name, value from facts').all([]) as { name: string; value: string }[]) {
      to.prepare('insert into facts (name, value) values (?, ?)').run([row.name, row.value])
    }
  } catch {
    // Without them the count begins with the first entry.
  } finally {
    from?.close()
  }
}
