import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { anyTime, count, map } from '../../protocol/parts.ts'
import { openSqlite } from './sqlite.ts'
import { fileProblem, StoreProblem } from './store-problem.ts'

/** Name of the file whose lock says that a keeper is at work in a folder. */
export const LOCK_FILE = 'lock.sqlite'

const holderSchema = map({ pid: count, since: anyTime })

export interface Lock {
  release(): void
}

/**
 * Takes the one place in a data folder. The lock is the operating system's: it ends with the process, however that
 * ends, and leaves nothing stale.
 * @param sinceIso - shown to whoever finds the place taken
 * @throws StoreProblem `busy` with the other's process id and start
 */
export function takeLock(folder: string, sinceIso: string): Lock {
  const path = join(folder, LOCK_FILE)
  const sql = openSqlite(path, 'write')
  try {
    // Long enough for one who only looks whether the place is taken.
    sql.exec('pragma busy_timeout = 250')
    sql.exec('create table if not exists holder (only integer primary key check (only = 1), pid integer, since text)')
    sql.prepare('insert or replace into holder (only, pid, since) values (1, ?, ?)').run([process.pid, sinceIso])
    sql.exec('begin immediate')
  } catch (error) {
    const code = (error as { code?: string }).code
    if (code !== 'SQLITE_BUSY') {
      sql.close()
      throw fileProblem(error, path)
    }
    const other = holderSchema.safeParse(sql.prepare('select pid, since from holder').get([])).data
    sql.close()
    const who = other ? `process ${other.pid} since ${other.since}` : 'another process'
    throw new StoreProblem('busy', `${folder}: a keeper is at work here (${who}): one keeper a house; end it first`)
  }
  return {
    release: () => {
      if (!sql.open) return
      sql.exec('rollback')
      sql.close()
    },
  }
}

/** Whether a keeper is at work in a folder; undefined when that cannot be seen, for want of a right to write there. */
export function isKept(folder: string): boolean | undefined {
  const path = join(folder, LOCK_FILE)
  if (!existsSync(path)) return false
  let sql: ReturnType<typeof openSqlite> | undefined
  try {
    sql = openSqlite(path, 'write')
    sql.exec('pragma busy_timeout = 0')
    sql.exec('begin immediate')
    sql.exec('rollback')
    return false
  } catch (error) {
    return (error as { code?: string }).code === 'SQLITE_BUSY' ? true : undefined
  } finally {
    sql?.close()
  }
}
