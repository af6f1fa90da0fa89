import { copyFileSync } from 'node:fs'
import { type EntryRow, ROW_BYTES, type RowBytes, rowOfBytes } from './rows.ts'
import { inTransaction, isReading, moveLog, type Sql } from './sqlite.ts'
import { StoreProblem, storeProblem } from './store-problem.ts'
import { FIRST_SUM, sumOfRow } from './sums.ts'

/** Name of the tally's file in its data folder. */
export const TALLY_FILE = 'tally.sqlite'

/** 'Sash' in ASCII: marks the file as a tally. */
const APPLICATION = 0x53617368

/** Version of the tables below. A file with a higher one is refused, one with a lower one is brought up. */
export const STORE_VERSION = 2

/**
 * The store's format.
 * `entries`: every entry for good, in the order of its commit; `at` in milliseconds, what has no column in `body`; `sum`
 * holds the row and the sum before it (`sums.ts`).
 * `snapshot`: the ledger after entry `seq`, so that a start replays only what came later. It is a cache: one whose sum
 * does not fit is dropped, and the entries are counted.
 * `taken`: what the messages in the last 100 commits of the broker session looked like.
 * `facts`: names and values; `facts.ts` has each of them.
 */
const TABLES = `
  create table entries (
    seq integer primary key, id text not null unique, at integer not null, mark text not null, body text not null,
    sum text not null
  ) strict;
  create index entries_by_mark on entries (mark, seq);
  create index entries_by_at on entries (at);
  create table snapshot (
    only integer primary key check (only = 1), seq integer not null, format text not null, kept text not null,
    sum text not null
  ) strict;
  create table taken (
    turn integer primary key, batch integer not null, packet integer not null, print text not null
  ) strict;
  create table facts (name text primary key, value text not null) strict, without rowid;
`

const number = (sql: Sql, pragma: string): number =>
  Number((sql.prepare(`pragma ${pragma}`).get([]) as Record<string, unknown>)[pragma])

/**
 * Makes the tables in an empty file, checks those of another, and brings up those of an earlier version: a copy of the
 * file as it was stays beside it.
 * @throws StoreProblem `newer`, `older` (a reader brings nothing up) or `foreign`
 */
export function ensureTables(sql: Sql, path: string): void {
  try {
    const empty = sql.prepare('select count(*) as n from sqlite_schema').get([]) as { n: number }
    if (empty.n === 0 && !isReading(sql)) {
      inTransaction(sql, () => {
        sql.exec(TABLES)
        sql.exec(`pragma application_id = ${APPLICATION}`)
        sql.exec(`pragma user_version = ${STORE_VERSION}`)
      })
    }
    if (number(sql, 'application_id') !== APPLICATION) {
      throw new StoreProblem('foreign', `${path}: it is not a tally: name the folder that \`sashtally keep\` made`)
    }
    const version = number(sql, 'user_version')
    if (version > STORE_VERSION) {
      throw new StoreProblem(
        'newer',
        `${path}: a newer sashtally wrote it (store version ${version}, this one reads ${STORE_VERSION}): nothing was touched; install the newer sashtally`,
      )
    }
    if (version < STORE_VERSION) bringUp(sql, path, version)
  } catch (error) {
    throw storeProblem(error, path)
  }
}

/** From version 1, whose entries carried no sum. All of it stands in one transaction, and is looked through before. */
function bringUp(sql: Sql, path: string, version: number): void {
  const copy = `${path}.version-${version}`
  if (isReading(sql)) {
    throw new StoreProblem(
      'older',
      `${path}: an earlier sashtally wrote it (store version ${version}): start \`sashtally keep\` on its folder once, it brings the store up and keeps a copy`,
    )
  }
  const [found] = sql
    .prepare('select cast(integrity_check as blob) as line from pragma_integrity_check(1)')
    .all([]) as {
    line: ArrayBuffer
  }[]
  if (found && Buffer.from(found.line).toString() !== 'ok')
    throw new StoreProblem('damaged', `${path}: it is damaged: run \`sashtally mend\` on its folder`)
  if (!moveLog(sql))
    throw new StoreProblem('busy', `${path}: it is to be copied and another program is reading it: end that program`)
  copyFileSync(path, copy)
  inTransaction(sql, () => {
    sql.exec("alter table entries add column sum text not null default ''")
    const update = sql.prepare('update entries set sum = ? where seq = ?')
    let sum = FIRST_SUM
    const rows = sql.prepare(`select ${ROW_BYTES} from entries order by seq`).all([]) as RowBytes[]
    for (const bytes of rows) {
      sum = sumOfRow(sum, wholeRow(bytes, path))
      update.run([sum, bytes.seq])
    }
    sql.exec('drop table snapshot')
    sql.exec(/create table snapshot[^;]*;/.exec(TABLES)![0])
    sql.exec(`pragma user_version = ${STORE_VERSION}`)
  })
}

function wholeRow(bytes: RowBytes, path: string): EntryRow {
  try {
    return rowOfBytes(bytes)
  } catch (error) {
    const where = `${path}: entry ${bytes.seq} cannot be read`
    throw new StoreProblem('damaged', `${where}: run \`sashtally mend\` on its folder`, { cause: error })
  }
}
