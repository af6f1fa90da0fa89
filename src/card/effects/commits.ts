import type { Ledger } from '../../ledger/apply.ts'
import type { Store } from '../../ledger/store.ts'
import type { Entry } from '../../protocol/entry.ts'
import { saveLate, takeLate } from './memory.ts'

/** Contacts' words are kept together this often, a person's at once; what came in the last moment before a power cut is lost. */
const EVERY_MILLISECONDS = 400
/** In a storm keeping takes at most this share of the time, and waits at most this long. */
const SHARE = 0.1
const LONGEST_MILLISECONDS = 5_000
/** Words that wait for a store that fails; beyond this the oldest are dropped. */
const MOST_WAITING = 10_000

/** Where entries are kept. */
export interface Target {
  readonly name: string
  readonly store: Store<Ledger>
}

/** Entries that wait, and the ledger that holds them all. */
interface Waiting {
  readonly entries: Entry[]
  ledger: Ledger | undefined
}

/** What waits to be kept: one commit after the other, so that the entries of each opening are kept in their order. */
export class Commits {
  readonly #target: () => Target | undefined
  readonly #elapsed: () => number
  readonly #tell: (isKept: boolean) => void
  #waiting: Waiting = { entries: [], ledger: undefined }
  #done: Promise<void> = Promise.resolve()
  #after = EVERY_MILLISECONDS
  #timer: ReturnType<typeof setTimeout> | undefined
  /** The last commit failed. */
  #fails = false

  /**
   * @param target - undefined where nothing is kept
   * @param tell - whether entries are kept, when that changes
   */
  constructor(target: () => Target | undefined, elapsed: () => number, tell: (isKept: boolean) => void) {
    this.#target = target
    this.#elapsed = elapsed
    this.#tell = tell
  }

  /** @param ledger - holds these entries and all that were handed over before */
  wait(entries: readonly Entry[], ledger: Ledger): void {
    if (!this.#target()) return
    this.#waiting.entries.push(...entries)
    this.#waiting.ledger = ledger
  }

  /** What waits belongs to another page or another house now. */
  forget(): void {
    this.#waiting = { entries: [], ledger: undefined }
  }

  soon(): void {
    this.#timer ??= setTimeout(this.#ring, this.#after)
  }

  /** The page may end before the store has answered. */
  save(): void {
    const target = this.#target()
    if (target) saveLate(target.name, this.#waiting.entries)
  }

  /** A ledger without new entries: since when this tablet counts must survive a reload before the first word. */
  keepBegun(ledger: Ledger): void {
    const target = this.#target()
    this.#done = this.#done.then(() => target?.store.commit([], ledger).catch(() => {}))
  }

  now(): Promise<void> {
    clearTimeout(this.#timer)
    this.#timer = undefined
    const [target, waiting] = [this.#target(), this.#waiting]
    if (target && waiting.entries.length > 0) this.#done = this.#done.then(() => this.#keep(target, waiting))
    return this.#done
  }

  readonly #ring = () => {
    void this.now()
  }

  async #keep({ name, store }: Target, { entries: waiting, ledger }: Waiting): Promise<void> {
    const entries = [...waiting]
    if (entries.length === 0 || !ledger) return
    const started = this.#elapsed()
    try {
      await store.commit(entries, ledger)
      waiting.splice(0, entries.length)
      if (waiting.length === 0) takeLate(name)
      const took = this.#elapsed() - started
      this.#after = Math.min(LONGEST_MILLISECONDS, Math.max(EVERY_MILLISECONDS, took / SHARE))
      if (this.#fails) this.#now(true)
    } catch {
      waiting.splice(0, waiting.length - MOST_WAITING)
      if (this.#target()?.store !== store) {
        saveLate(name, waiting)
        return
      }
      this.#timer ??= setTimeout(this.#ring, LONGEST_MILLISECONDS)
      this.#now(false)
    }
  }

  #now(isKept: boolean): void {
    this.#fails = !isKept
    this.#tell(isKept)
  }
}
