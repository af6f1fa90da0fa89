import { closeSync, openSync, readFileSync, writeSync } from 'node:fs'
import { parseJson } from '../../text/parse-json.ts'

/** What a keeper answered for last, so that a store which has less is known to have lost it. */
export interface Answered {
  readonly seq: number
  /** The sum of that entry. */
  readonly sum: string
}

const WIDTH = 80

/**
 * A small file beside the tally that names the last entry which was committed. It is written after each commit and not
 * waited for: after a power cut it may name an earlier entry, never one that was not on the disk.
 */
export class LastAnswered {
  readonly #path: string
  #file: number | undefined

  constructor(tallyPath: string) {
    this.#path = `${tallyPath}.last`
  }

  /** Undefined where there is none, or none that can be read. */
  read(): Answered | undefined {
    try {
      const found = parseJson(readFileSync(this.#path, 'utf8')) as Partial<Answered> | undefined
      const { seq, sum } = found ?? {}
      return Number.isSafeInteger(seq) && typeof sum === 'string' ? { seq: seq!, sum } : undefined
    } catch {
      return undefined
    }
  }

  /** Failing costs the check at the next start, nothing else. */
  write(answered: Answered): void {
    try {
      this.#file ??= openSync(this.#path, 'w', 0o600)
      writeSync(this.#file, `${JSON.stringify(answered).padEnd(WIDTH - 1)}\n`, 0)
    } catch {
      this.close()
    }
  }

  close(): void {
    if (this.#file !== undefined) closeSync(this.#file)
    this.#file = undefined
  }
}
