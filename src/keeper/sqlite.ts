import { existsSync, mkdirSync } from 'node:fs'
import { dirname } from 'node:path'
import Database from 'libsql'

export type Sql = InstanceType<typeof Database>
export type Statement = ReturnType<Sql['prepare']>

/** What is wrong with a store, in a word; the message is a sentence for the person. */
export type StoreFault = 'full' | 'read-only' | 'newer' | 'busy' | 'damaged' | 'missing' | 'foreign' | 'input-output'

export class StoreProblem extends Error {
  constructor(
    readonly fault: StoreFault,
    message: string,
    options?: ErrorOptions,
  ) {
    super(message, options)
  }
}

const FAULTS: readonly (readonly [RegExp, StoreFault, string])[] = [
  [/^SQLITE_FULL/, 'full', 'the disk is full: free some space and it goes on by itself'],
  [
    /^SQLITE_(READONLY|PERM)/,
    'read-only',
    'the disk or the file is read-only: make it writable and it goes on by itself',
  ],
  [/^SQLITE_(BUSY|LOCKED)/, 'busy', 'another program holds it locked: end that program'],
  [/^SQLITE_CORRUPT/, 'damaged', 'it is damaged: run `sashtally mend` on its folder'],
  [/^SQLITE_NOTADB/, 'foreign', 'it is not a tally: name the folder that `sashtally keep` made'],
  [
    /^SQLITE_CANTOPEN|Unable to open/,
    'read-only',
    'it cannot be opened for writing here: check the folder and its rights',
  ],
]

/** Turns an error of the database into a sentence with the file and what to do; other errors pass unchanged. */
export function storeProblem(error: unknown, path: string): unknown {
  if (!(error instanceof Error) || error instanceof StoreProblem) return error
  const code = (error as { code?: unknown }).code
  const name = typeof code === 'string' && code.startsWith('SQLITE_') ? code : ''
  for (const [pattern, fault, sentence] of FAULTS) {
    if (pattern.test(name || error.message)) return new StoreProblem(fault, `${path}: ${sentence}`, { cause: error })
  }
  if (!name) return error
  return new StoreProblem('input-output', `${path}: the disk refused it (${name}: ${error.message})`, { cause: error })
}

/**
 * Opens a database file. Every commit is on the disk before it returns (write-ahead log, full synchronisation).
 * @param mode - `write` makes the folder and the file; `read` never changes them
 * @throws StoreProblem in a sentence for the person
 */
export function openSqlite(path: string, mode: 'write' | 'read'): Sql {
  try {
    if (mode === 'read') return openToRead(path)
    if (!existsSync(dirname(path))) mkdirSync(dirname(path), { mode: 0o750 })
    const sql = new Database(path, { timeout: 5_000 })
    sql.pragma('journal_mode = WAL')
    sql.pragma('synchronous = FULL')
    return sql
  } catch (error) {
    const { code, syscall } = error as NodeJS.ErrnoException
    if (syscall === 'mkdir') {
      throw new StoreProblem('read-only', `${dirname(path)}: the folder cannot be made (${code})`, { cause: error })
    }
    throw storeProblem(error, path)
  }
}

function openToRead(path: string): Sql {
  if (!existsSync(path)) throw new StoreProblem('missing', `${path}: there is no tally here yet`)
  const look = (name: string): Sql => {
    const sql = new Database(name, { timeout: 5_000 })
    sql.pragma('query_only = 1')
    sql.prepare('select count(*) from sqlite_schema').get([])
    return sql
  }
  try {
    return look(path)
  } catch (error) {
    // On a read-only disk the log's shared memory cannot be made; without a log the file can be read as it lies.
    const code = (error as { code?: string }).code
    if (code !== 'SQLITE_CANTOPEN' || existsSync(`${path}-wal`)) throw error
    return look(`file:${encodeURI(path)}?mode=ro&immutable=1`)
  }
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

/** Closes after moving the log into the file: statements may keep the handle alive until they are collected. */
export function closeSqlite(sql: Sql): void {
  if (!sql.open) return
  try {
    // Whoever else has it open is not waited for.
    sql.pragma('busy_timeout = 0')
    sql.pragma('wal_checkpoint(TRUNCATE)')
  } catch {
    // A reader or a full disk: the log stays and is read at the next start.
  }
  sql.close()
}
