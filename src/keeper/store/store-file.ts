import { existsSync, statSync } from 'node:fs'
import type { LastAnswered } from './last-answered.ts'
import { ensureTables } from './schema.ts'
import { makeSqlite } from './sqlite.ts'
import { StoreProblem } from './store-problem.ts'

const WAY_BACK = 'put a backup in its place, or `sashtally mend --backups DIR`'

/** Device and number of a file; '' where it is not there. */
export function fileNumber(path: string): string {
  const found = statSync(path, { throwIfNoEntry: false })
  return found ? `${found.dev}:${found.ino}` : ''
}

/**
 * Makes the tally's file where there has never been one.
 * @throws StoreProblem where there was one, or it was emptied
 */
export function beginFile(path: string, last: LastAnswered): void {
  mustNotBeEmpty(path)
  if (existsSync(path)) return
  if (existsSync(`${path}-wal`) || last.read()) {
    throw new StoreProblem(
      'missing',
      `${path}: the file is gone, and what lies beside it tells that there was one: ${WAY_BACK}`,
    )
  }
  makeSqlite(path, sql => ensureTables(sql, path))
}

/** @throws StoreProblem: a file comes to its name only when its tables stand */
export function mustNotBeEmpty(path: string): void {
  if (!existsSync(path) || statSync(path).size > 0) return
  throw new StoreProblem('damaged', `${path}: the file is empty: ${WAY_BACK}`)
}

/** @throws StoreProblem where entries are missing that a keeper answered for */
export function mustHoldAnswered(path: string, last: LastAnswered, end: number, sumAt: (seq: number) => string): void {
  const answered = last.read()
  if (!answered || (answered.seq <= end && sumAt(answered.seq) === answered.sum)) return
  const found = answered.seq <= end ? 'another entry stands there' : `this store ends with ${end}`
  throw new StoreProblem(
    'damaged',
    `${path}: entry ${answered.seq} was answered for, and ${found}: an older copy, or damaged; ${WAY_BACK}`,
  )
}

/**
 * The folder may be removed, or another file put in its place, while the tally is open: it would take words for nobody.
 * @param file - what `fileNumber` gave when it was opened
 * @throws StoreProblem where another file, or none, stands at `path` now
 */
export function mustBeInPlace(path: string, file: string): void {
  if (file === fileNumber(path)) return
  throw new StoreProblem(
    'missing',
    `${path}: the file was removed or replaced while the keeper ran: end the keeper, put the file back and start again; until then the broker keeps what comes`,
  )
}
