import { existsSync, mkdirSync, readdirSync, renameSync, rmSync } from 'node:fs'
import { basename, join } from 'node:path'
import type { Entry } from '../../protocol/entry.ts'
import { DAY, iso } from '../../text/time.ts'
import { factsOf } from '../store/facts.ts'
import { flush } from '../store/flush.ts'
import { openSqlite } from '../store/sqlite.ts'
import { fileProblem, StoreProblem } from '../store/store-problem.ts'
import { StoredEntries } from '../store/stored-entries.ts'

const NAME = /^tally-\d{4}-\d\d-\d\d\.sqlite$/

/** Where backups go and how many stay. */
export interface Backups {
  readonly folder: string
  readonly keep: number
}

/** What makes a consistent copy of itself. */
export interface BackedUp {
  readonly length: number
  backup(path: string): void
}

const backupsIn = (folder: string): string[] =>
  existsSync(folder)
    ? readdirSync(folder)
        .filter(name => NAME.test(name))
        .sort()
    : []

/**
 * The beginning of the day of a folder's newest backup, milliseconds since the epoch; undefined without one. One from
 * after `now` was made by a wrong clock.
 */
export function backedUpAt(folder: string, now: number): number | undefined {
  return backupsIn(folder)
    .map(name => Date.parse(name.slice('tally-'.length, -'.sqlite'.length)))
    .findLast(at => at <= now)
}

/**
 * Makes the copy of a day where there is none yet: it is read back and looked through whole before the oldest goes.
 * @param keep - how many backups stay
 * @param now - milliseconds since the epoch
 * @returns whether a copy was made
 * @throws StoreProblem when the copy cannot be made, or is not what was kept
 */
export async function backUp(store: BackedUp, folder: string, keep: number, now: number): Promise<boolean> {
  const path = join(folder, `tally-${iso(now).slice(0, 10)}.sqlite`)
  if (existsSync(path)) return false
  const fresh = `${path}.new`
  try {
    if (!existsSync(folder)) mkdirSync(folder, { recursive: true, mode: 0o700 })
    rmSync(fresh, { force: true })
    const { length } = store
    store.backup(fresh)
    await mustBeWhole(fresh, length)
    renameSync(fresh, path)
    flush(folder)
    for (const name of oldestBefore(basename(path), folder).slice(0, -keep)) rmSync(join(folder, name))
    return true
  } catch (error) {
    rmSync(fresh, { force: true })
    throw fileProblem(error, path)
  }
}

/** The backups of a folder, `newest` last; those with a later date are the first: a wrong clock made them once. */
function oldestBefore(newest: string, folder: string): string[] {
  const names = backupsIn(folder)
  return [...names.filter(name => name > newest), ...names.filter(name => name <= newest)]
}

/** True when a backup of the day of `now` is due: there is none of the last 24 hours. */
export const isBackupDue = (folder: string, now: number): boolean => {
  const at = backedUpAt(folder, now)
  return at === undefined || now - at >= DAY
}

export interface Backup {
  readonly path: string
  readonly entries: readonly Entry[]
  readonly facts: ReturnType<typeof factsOf>
}

/**
 * The backup of a folder that holds most and is whole; undefined where there is none. Its name is no measure: a clock
 * that was wrong for a day gave one a later date than those that followed.
 */
export function fullestBackup(folder: string): Backup | undefined {
  const found = backupsIn(folder).map(name => join(folder, name))
  const byLength = found.map(path => ({ path, length: lengthOf(path) })).sort((a, b) => b.length - a.length)
  for (const { path } of byLength) {
    try {
      return readBackup(path)
    } catch {
      // One with less may be whole.
    }
  }
  return undefined
}

/** Entries of a backup as its file says; -1 where it cannot be read. */
function lengthOf(path: string): number {
  try {
    const sql = openSqlite(path, 'read')
    try {
      return new StoredEntries(sql, path).end
    } finally {
      sql.close()
    }
  } catch {
    return -1
  }
}

/** @throws Error when an entry is not what was kept */
function readBackup(path: string): Backup {
  const sql = openSqlite(path, 'read')
  try {
    const stored = new StoredEntries(sql, path)
    stored.mustFit(0, stored.end)
    return { path, entries: [...stored.matching({})], facts: factsOf(sql) }
  } finally {
    sql.close()
  }
}

/** Looks through a copy while other work goes on. */
async function mustBeWhole(path: string, length: number): Promise<void> {
  const sql = openSqlite(path, 'read')
  try {
    const stored = new StoredEntries(sql, path)
    if (stored.end !== length)
      throw new StoreProblem('damaged', `${path}: the copy holds ${stored.end} of ${length} entries`)
    for (const { wrong } of stored.check(0, length)) {
      if (wrong[0] !== undefined) throw new StoreProblem('damaged', `${path}: entry ${wrong[0]} is not what was kept`)
      await new Promise(done => setImmediate(done))
    }
  } finally {
    sql.close()
  }
}
