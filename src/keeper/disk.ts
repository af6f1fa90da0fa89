import type { Ledger } from '../ledger/apply.ts'
import type { Clock } from './clock.ts'
import type { KeeperOptions } from './options.ts'
import type { TallyStore } from './store/store.ts'
import { StoreProblem } from './store/store-problem.ts'
import type { Batch } from './store/store-rules.ts'
import { turnOf } from './turns.ts'

const FIRST_MILLISECONDS = 1_000
const LONGEST_MILLISECONDS = 30_000

interface DiskOptions {
  readonly store: TallyStore<Ledger>
  readonly clock: Clock
  readonly waits: KeeperOptions['waits']
  /** The store refuses, or (undefined) takes entries again. */
  trouble(problem: string | undefined): void
}

/** The store behind a disk that may be slow or refuse: one batch at a time, and what was refused is tried again. */
export class Disk {
  readonly #o: DiskOptions
  #waits: KeeperOptions['waits']
  #isWriting = false
  #written: Promise<void> = Promise.resolve()
  #isPausing = false
  #failures = 0
  #cancel = (): void => {}

  constructor(options: DiskOptions) {
    this.#o = options
    this.#waits = options.waits
  }

  /** Nothing more may be committed now. */
  get isBusy(): boolean {
    return this.#isWriting || this.#isPausing
  }

  /** Resolves when what was committed is on the disk, or could not be brought there. */
  get written(): Promise<void> {
    return this.#written
  }

  /** What was committed is on its way to the disk. */
  get isWriting(): boolean {
    return this.#isWriting
  }

  /** It refuses: the wait for another try goes on. */
  get isPausing(): boolean {
    return this.#isPausing
  }

  /** What was tried last was refused. */
  get hasFailed(): boolean {
    return this.#failures > 0
  }

  /**
   * @returns undefined: it is on the disk; else what `whenWritten` takes
   * @throws StoreProblem when nothing of it was kept
   */
  commit(batch: Batch<Ledger>): Promise<void> | undefined {
    if (this.#waits) return this.#o.store.commitBeside(batch)
    this.#o.store.commitBatch(batch)
    return undefined
  }

  /** Runs `kept` once what was committed is on the disk, however often that is tried; until then it is busy. */
  whenWritten(written: Promise<void> | undefined, kept: () => void): void {
    if (!written) {
      kept()
      return
    }
    this.#isWriting = true
    const done = (): void => {
      this.#isWriting = false
      this.#o.store.answered()
      kept()
    }
    // The flushes of many houses end together: their answers take turns too.
    this.#written = written.then(
      () => turnOf(done),
      error => this.refused(error, () => this.#settle(done)),
    )
  }

  #settle(done: () => void): void {
    try {
      this.#o.store.settle()
    } catch (error) {
      this.refused(error, () => this.#settle(done))
      return
    }
    done()
  }

  /** @param again - called after a while */
  refused(error: unknown, again: () => void): void {
    if (!(error instanceof StoreProblem)) throw error
    this.#isPausing = true
    const wait = Math.min(LONGEST_MILLISECONDS, FIRST_MILLISECONDS * 2 ** this.#failures++)
    this.#o.trouble(error.whileKept)
    this.#cancel = this.#o.clock.after(wait, () => {
      this.#isPausing = false
      again()
    })
  }

  worked(): void {
    this.#failures = 0
    this.#o.trouble(undefined)
  }

  /** Resolves when nothing is on its way to the disk; from now on a commit is waited for. */
  async last(): Promise<void> {
    this.#waits = undefined
    await this.#written
  }

  stop(): void {
    this.#cancel()
  }
}
