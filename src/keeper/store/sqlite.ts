import {
  chmodSync,
  closeSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { basename, dirname, join } from 'node:path'
import Database from 'libsql'
import { flush } from './flush.ts'
import { logDamage } from './log-check.ts'
import { fileProblem, StoreProblem } from './store-problem.ts'

/**
 * What the store asks of a database: all that another binding would have to give. Values of placeholders are one list.
 */
export interface Sql {
  readonly open: boolean
  readonly inTransaction: boolean
  prepare(text: string): Statement
  exec(text: string): void
  pragma(text: string): unknown
  close(): void
}

export interface Statement {
  get(values: readonly unknown[]): unknown
  all(values: readonly unknown[]): unknown[]
  iterate(values: readonly unknown[]): IterableIterator<unknown>
  run(values: readonly unknown[]): unknown
}

/**
 * Opens a database file. Every commit is on the disk before it returns (write-ahead log, full synchronisation).
 * @param mode - `write` makes the folder and the file; `read` never changes them
 * @throws StoreProblem in a sentence for the person
 */
export function openSqlite(path: string, mode: 'write' | 'read'): Sql {
  try {
    if (mode === 'read') return openToRead(path)
    makeFolder(dirname(path))
    mustBeWhole(path)
    const sql = new Database(path, { timeout: 5_000 })
    chmodSync(path, 0o600)
    sql.pragma('journal_mode = WAL')
    sql.pragma('synchronous = FULL')
    return sql
  } catch (error) {
    throw fileProblem(error, path)
  }
}

/**
 * Makes a database file that comes to its name only when it is whole, so that an empty file is a damaged one.
 * It is made without a log, since a log would belong to its first name.
 * @throws StoreProblem in a sentence for the person
 */
export function makeSqlite(path: string, fill: (sql: Sql) => void): void {
  const fresh = `${path}.new`
  try {
    makeFolder(dirname(path))
    for (const end of ['', '-journal']) rmSync(fresh + end, { force: true })
    const sql = new Database(fresh, { timeout: 5_000 })
    try {
      chmodSync(fresh, 0o600)
      sql.pragma('synchronous = FULL')
      fill(sql)
    } finally {
      sql.close()
    }
    // A log of the file that stood there before would be read into the new one.
    for (const end of ['-wal', '-shm']) rmSync(path + end, { force: true })
    renameSync(fresh, path)
  } catch (error) {
    throw fileProblem(error, path)
  }
}

function makeFolder(folder: string): void {
  if (!existsSync(folder)) mkdirSync(folder, { mode: 0o700 })
}

/**
 * Whoever opens a database to write rolls a damaged log away. While another process writes, a look may meet a log that
 * is being begun anew: damage is what is there at the second look too.
 */
function mustBeWhole(path: string): void {
  if (logDamage(path) === undefined) return
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 200)
  const damage = logDamage(path)
  if (damage !== undefined) throw new StoreProblem('damaged', `${damage}: run \`sashtally mend\` on its folder`)
}

/**
 * Opens without changing any file. A log that nobody has open is read in a copy: to read it in its place SQLite would
 * have to make files beside it.
 */
function openToRead(path: string): Sql {
  if (!existsSync(path)) throw new StoreProblem('missing', `${path}: there is no tally here yet`)
  mustBeWhole(path)
  const uri = (rest: string): string => `file:${encodeURI(path).replace(/[?#]/g, encodeURIComponent)}?mode=ro${rest}`
  // Beside what another process has open, or was killed with, lies its shared memory.
  if (existsSync(`${path}-shm`)) return look(uri(''))
  const hasLog = existsSync(`${path}-wal`) && statSync(`${path}-wal`).size > 0
  return hasLog ? lookAtCopy(path) : look(uri('&immutable=1'))
}

/** A database that is gone when it is closed. */
export const openMemory = (): Sql => new Database(':memory:')

function look(name: string): Sql {
  const sql = new Database(name, { timeout: 5_000 })
  sql.pragma('query_only = 1')
  sql.prepare('select count(*) from sqlite_schema').get([])
  return sql
}

function lookAtCopy(path: string): Sql {
  const folder = mkdtempSync(join(tmpdir(), 'sashtally-read-'))
  try {
    const copy = join(folder, basename(path))
    for (const end of ['', '-wal']) copyFileSync(path + end, copy + end)
    return look(copy)
  } finally {
    // An open file outlives its name.
    rmSync(folder, { recursive: true, force: true })
  }
}

export const isReading = (sql: Sql): boolean =>
  Number((sql.prepare('pragma query_only').get([]) as { query_only: number }).query_only) === 1

/**
 * Writes a whole and consistent copy to a file that does not exist yet, for its owner alone, and flushes it: SQLite does
 * not. A connection that only reads may do so too.
 */
export function copyInto(sql: Sql, path: string): void {
  closeSync(openSync(path, 'wx', 0o600))
  const reading = isReading(sql)
  sql.pragma('query_only = 0')
  try {
    sql.prepare('vacuum into ?').run([path])
  } finally {
    if (reading) sql.pragma('query_only = 1')
  }
  flush(path)
}

/** Runs `work` in one transaction: all of it is on the disk afterwards, or none. */
export function inTransaction<T>(sql: Sql, work: () => T): T {
  sql.exec('begin immediate')
  try {
    const result = work()
    sql.exec('commit')
    return result
  } catch (error) {
    if (sql.inTransaction) sql.exec('rollback')
    throw error
  }
}

/**
 * Moves the log into the database's file and empties it. Waits for readers as long as the connection waits for locks.
 * @returns false: some of it is in the log still, since another connection reads it; that is no error to SQLite
 */
export function moveLog(sql: Sql): boolean {
  const moved = sql.prepare('pragma wal_checkpoint(TRUNCATE)').get([]) as Record<
    'busy' | 'log' | 'checkpointed',
    number
  >
  return moved.busy === 0 && moved.checkpointed === moved.log
}

/** Closes after moving the log into the file: statements may keep the handle alive until they are collected. */
export function closeSqlite(sql: Sql): void {
  if (!sql.open) return
  try {
    // Whoever else has it open is not waited for.
    sql.pragma('busy_timeout = 0')
    moveLog(sql)
  } catch {
    // A reader or a full disk: the log stays and is read at the next start.
  }
  sql.close()
}
