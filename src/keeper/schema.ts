import { inTransaction, type Sql, StoreProblem, storeProblem } from './sqlite.ts'

/** Name of the tally's file in its data folder. */
export const TALLY_FILE = 'tally.sqlite'

/** 'Sash' in ASCII: marks the file as a tally. */
const APPLICATION = 0x53617368

/** Version of the tables below. A file with a higher one is refused, a lower one would be brought up here. */
export const STORE_VERSION = 1

/**
 * The store's format.
 * `entries`: every entry for good, in the order of its commit; `at` in milliseconds, what has no column in `body`.
 * `snapshot`: the ledger after entry `seq`, so that a start replays only what came later.
 * `taken`: what the messages in the last 100 commits of the broker session looked like.
 * `facts`: names and values: `born`, `lastLive`, `reusedIn`.
 */
const TABLES = `
  create table entries (
    seq integer primary key, id text not null unique, at integer not null, mark text not null, body text not null
  ) strict;
  create index entries_by_mark on entries (mark, seq);
  create index entries_by_at on entries (at);
  create table snapshot (
    only integer primary key check (only = 1), seq integer not null, format text not null, kept text not null
  ) strict;
  create table taken (
    turn integer primary key, batch integer not null, packet integer not null, print text not null
  ) strict;
  create table facts (name text primary key, value text not null) strict, without rowid;
`

const number = (sql: Sql, pragma: string): number =>
  Number((sql.prepare(`pragma ${pragma}`).get([]) as Record<string, unknown>)[pragma])

/**
 * Makes the tables in an empty file and checks those of another.
 * @throws StoreProblem `newer` or `foreign`
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
  } catch (error) {
    throw storeProblem(error, path)
  }
}

const isReading = (sql: Sql): boolean => number(sql, 'query_only') === 1
