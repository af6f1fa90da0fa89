import { copyFileSync, existsSync, mkdtempSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import type { Entry } from '../../protocol/entry.ts'
import { type Facts, factsOf } from '../store/facts.ts'
import { LastAnswered } from '../store/last-answered.ts'
import { takeLock } from '../store/lock.ts'
import { logDamage } from '../store/log-check.ts'
import { rowOf } from '../store/rows.ts'
import { ensureTables, TALLY_FILE } from '../store/schema.ts'
import { inTransaction, makeSqlite, openSqlite, type Sql } from '../store/sqlite.ts'
import { fileProblem, type StoreFault, StoreProblem, storeProblem } from '../store/store-problem.ts'
import { StoredEntries } from '../store/stored-entries.ts'
import { FIRST_SUM, sumOfRow } from '../store/sums.ts'
import { fullestBackup } from './backup.ts'
import { salvage, unvouched } from './salvage.ts'

/** What a check found and what a repair did; `problems` is empty for a sound store. */
export interface Mended {
  readonly problems: readonly string[]
  /** Entries that stand in the store now. */
  readonly entries: number
  /** Places in the order of commit whose entries could not be read, as [first, last], by their numbers before. */
  readonly lost: readonly (readonly [number, number])[]
  /** The last entry that is known to have been answered for, by its number before. */
  readonly answered?: number
  /** Numbers, as they were, of entries that stand in the store but may not be what was committed. */
  readonly doubtful: readonly number[]
  /** The damaged file as it was; absent when nothing was changed, or when there was none. */
  readonly savedAs?: string
  /** The backup whose entries were put together with what could be read. */
  readonly backup?: { readonly path: string; readonly entries: number }
}

/**
 * Checks the tally of a data folder; nothing is changed in a sound one. Where it is damaged, file and log are copied
 * aside first; every entry that can still be read, and those of the last good backup, go to a new file, and that takes
 * the place; the ledger is counted again at the next start.
 * @param stamp - goes into the name of the copy
 * @param backups - folder of backups, as `keep --backups` makes them
 * @throws StoreProblem when a keeper is running there, when there is neither tally nor backup, when the disk is full, or
 *   when the store is from a newer version
 */
export function mendStore(folder: string, stamp: string, backups?: string): Mended {
  const path = join(folder, TALLY_FILE)
  if (!existsSync(path) && backups === undefined)
    throw new StoreProblem('missing', `${path}: there is no tally here yet`)
  const lock = takeLock(folder, stamp)
  try {
    if (!existsSync(path)) return repair(path, stamp, [`${path}: there is no tally here`], backups)
    const { problems, entries } = look(path)
    if (problems.length > 0) return repair(path, stamp, problems, backups)
    return { problems, entries, lost: [], doubtful: [] }
  } catch (error) {
    throw fileProblem(error, path)
  } finally {
    lock.release()
  }
}

/** What of a store that cannot be opened is to be mended here. */
const WRONG: Partial<Record<StoreFault, string>> = {
  damaged: 'the file is damaged',
  foreign: 'the beginning of the file is not that of a tally',
  'input-output': 'the file cannot be read as a whole',
}

/** What is wrong with a store, looked at in a copy: SQLite itself would change file and log. */
function look(path: string): { readonly problems: string[]; readonly entries: number } {
  const damage = logDamage(path)
  if (damage !== undefined) return { problems: [damage], entries: 0 }
  const folder = mkdtempSync(`${path}.looked-`)
  let sql: Sql | undefined
  try {
    const copy = join(folder, TALLY_FILE)
    for (const end of ['', '-wal']) if (existsSync(path + end)) copyFileSync(path + end, copy + end)
    sql = openSqlite(copy, 'write')
    return lookAt(sql, copy, path)
  } catch (error) {
    const problem = storeProblem(error, path)
    if (!(problem instanceof StoreProblem)) throw error
    const wrong = WRONG[problem.fault]
    if (wrong === undefined) throw problem
    return { problems: [wrong], entries: 0 }
  } finally {
    sql?.close()
    rmSync(folder, { recursive: true, force: true })
  }
}

function lookAt(sql: Sql, copy: string, path: string): ReturnType<typeof look> {
  const query = 'select cast(integrity_check as blob) as line from pragma_integrity_check(20)'
  const lines = (sql.prepare(query).all([]) as { line: ArrayBuffer }[]).map(({ line }) => Buffer.from(line).toString())
  const problems = lines.filter(line => line !== 'ok')
  if (problems.length > 0) return { problems, entries: 0 }
  ensureTables(sql, copy)
  const stored = new StoredEntries(sql, copy)
  const entries = stored.end
  for (const { wrong } of stored.check(0, entries)) {
    for (const seq of wrong) problems.push(`entry ${seq} is not what was kept, or cannot be read`)
  }
  const answered = new LastAnswered(path).read()
  if (answered && (answered.seq > entries || stored.sumAt(answered.seq) !== answered.sum)) {
    problems.push(`entry ${answered.seq} was answered for, and does not stand here: an older copy, or damaged`)
  }
  return { problems, entries }
}

function repair(path: string, stamp: string, problems: readonly string[], backups: string | undefined): Mended {
  const isThere = existsSync(path)
  const savedAs = `${path}.damaged-${stamp.replaceAll(/[^0-9A-Za-z]/g, '')}`
  for (const end of ['', '-wal']) if (existsSync(path + end)) copyFileSync(path + end, savedAs + end)
  const rescued = isThere ? salvage(path) : []
  const backup = backups === undefined ? undefined : fullestBackup(backups)
  if (rescued.length === 0 && !backup) {
    const copy = isThere ? `; nothing was changed, a copy is ${savedAs}` : ''
    const where =
      backups === undefined
        ? '; where there are backups, name their folder with --backups DIR'
        : `, and ${backups} holds no backup that is whole`
    throw new StoreProblem('damaged', `${path}: not one entry could be read${where}${copy}`)
  }
  // A backup is the beginning of the tally: what it has is known to be what was committed.
  const standing = new Set(backup?.entries.map(({ id }) => id))
  const isNew = ({ entry }: (typeof rescued)[number]): boolean => !standing.has(entry.id)
  const entries = [...(backup?.entries ?? []), ...rescued.filter(isNew).map(({ entry }) => entry)]
  const facts = (isThere ? factsIn(path) : undefined) ?? backup?.facts ?? []
  const last = new LastAnswered(path)
  const answered = last.read()?.seq
  const sum = fill(path, entries, facts)
  last.write({ seq: entries.length, sum })
  last.close()
  const doubtful = new Set(unvouched(rescued))
  return {
    problems,
    entries: entries.length,
    lost: gapsOf([...rescued.map(({ seq }) => seq), ...(backup?.entries.map((_, index) => index + 1) ?? [])], answered),
    ...(answered === undefined ? {} : { answered }),
    doubtful: rescued.filter(isNew).flatMap(({ seq }) => (doubtful.has(seq) ? [seq] : [])),
    ...(isThere ? { savedAs } : {}),
    ...(backup ? { backup: { path: backup.path, entries: backup.entries.length } } : {}),
  }
}

/** Numbers that are not there up to the last one, or to the one that was answered for last; as [first, last]. */
function gapsOf(numbers: readonly number[], answered = 0): (readonly [number, number])[] {
  let last = 0
  const gaps: (readonly [number, number])[] = []
  for (const seq of [...new Set(numbers)].sort((a, b) => a - b)) {
    if (seq > last + 1) gaps.push([last + 1, seq - 1])
    last = seq
  }
  if (answered > last) gaps.push([last + 1, answered])
  return gaps
}

/** Writes the entries to a new file, which takes the place of `path`; returns the sum of the last one. */
function fill(path: string, entries: readonly Entry[], facts: Facts): string {
  let sum = FIRST_SUM
  makeSqlite(path, sql => {
    ensureTables(sql, path)
    const insert = sql.prepare('insert into entries (seq, id, at, mark, body, sum) values (?, ?, ?, ?, ?, ?)')
    const put = sql.prepare('insert into facts (name, value) values (?, ?)')
    inTransaction(sql, () => {
      entries.forEach((entry, index) => {
        const [id, at, mark, body] = rowOf(entry)
        sum = sumOfRow(sum, { seq: index + 1, id, at, mark, body })
        insert.run([index + 1, id, at, mark, body, sum])
      })
      // The seal of a backup is an older one than waits in the session.
      for (const fact of new Map([...facts, ['mended', 'yes'], ['seal', '']])) put.run([...fact])
    })
  })
  return sum
}

/** The facts of a damaged file, where they can be read; without them the count begins with the first entry. */
function factsIn(path: string): Facts | undefined {
  const folder = mkdtempSync(`${path}.looked-`)
  let sql: Sql | undefined
  try {
    const copy = join(folder, TALLY_FILE)
    copyFileSync(path, copy)
    sql = openSqlite(copy, 'write')
    return factsOf(sql)
  } catch {
    return undefined
  } finally {
    sql?.close()
    rmSync(folder, { recursive: true, force: true })
  }
}
