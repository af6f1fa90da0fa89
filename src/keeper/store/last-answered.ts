import { closeSync, openSync, readFileSync, writeSync } from 'node:fs'
import { fittingJson } from '../../protocol/fitting.ts'
import { count, map, type Plain, pattern } from '../../protocol/parts.ts'
import { SUM } from './sums.ts'

const answeredSchema = map({ seq: count, /** Of that entry. */ sum: pattern(SUM, 'must be the sum of an entry') })

/** What a keeper answered for last, so that a store which has less is known to have lost it. */
export interface Answered extends Plain<typeof answeredSchema> {}

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
      return fittingJson(answeredSchema, readFileSync(this.#path, 'utf8'))
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
