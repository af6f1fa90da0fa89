import { closeSync, fsync, openSync } from 'node:fs'
import { promisify } from 'node:util'
import { flush } from './flush.ts'
import { moveLog, type Sql } from './sqlite.ts'
import { fileProblem, StoreProblem } from './store-problem.ts'

const IS_READ = 'the disk refused its log, and another program is reading the tally: end that program'

/** The log of an open database on its way to the disk; it is one file for as long as that is open. */
export class LogFlush {
  readonly #sql: Sql
  readonly #path: string
  #file: number | undefined
  /** The flush that is on its way. */
  #going: Promise<void> | undefined

  constructor(sql: Sql, path: string) {
    this.#sql = sql
    this.#path = path
  }

  /** Whether the next commits return only when they are on the disk, as those of `openSqlite` do, or `flush` follows. */
  wait(isWaitedFor: boolean): void {
    this.#sql.pragma(`synchronous = ${isWaitedFor ? 'FULL' : 'NORMAL'}`)
  }

  /**
   * Waits beside the event loop until what was committed is on the disk.
   * @throws StoreProblem by the promise
   */
  flush(): Promise<void> {
    const flushed = this.#flush()
    const ended = (): void => {
      if (this.#going === going) this.#going = undefined
    }
    const going = flushed.then(ended, ended)
    this.#going = going
    return flushed
  }

  async #flush(): Promise<void> {
    try {
      this.#file ??= openSync(`${this.#path}-wal`, 'r')
      await promisify(fsync)(this.#file)
    } catch (error) {
      throw fileProblem(error, this.#path)
    }
  }

  /**
   * Puts what was committed on the disk after a flush that failed. A system may take a file that it failed to write for
   * written afterwards: the log is moved into the database's own file, which is written and flushed anew, and emptied,
   * since after a loss of power the frames before a lost one would be read over what was moved.
   * @throws StoreProblem `busy`, at once, while another program reads the tally: its reader keeps frames in the log
   */
  moveIn(): void {
    const { timeout } = this.#sql.prepare('pragma busy_timeout').get([]) as { timeout: number }
    this.#sql.pragma('busy_timeout = 0')
    try {
      if (!moveLog(this.#sql)) throw new StoreProblem('busy', `${this.#path}: ${IS_READ}`)
      flush(`${this.#path}-wal`)
    } catch (error) {
      throw fileProblem(error, this.#path)
    } finally {
      this.#sql.pragma(`busy_timeout = ${timeout}`)
    }
  }

  /**
   * Another file must not get the number of this one while it is being flushed.
   * @param closed - called at once where nothing is being flushed
   */
  close(closed: () => void): Promise<void> {
    const end = (): void => {
      if (this.#file !== undefined) closeSync(this.#file)
      this.#file = undefined
      closed()
    }
    if (this.#going) return this.#going.then(end)
    end()
    return Promise.resolve()
  }
}
