import type { Ledger } from '../../ledger/apply.ts'
import type { Store } from '../../ledger/store.ts'
import type { Entry } from '../../protocol/entry.ts'
import { saveLate, takeLate } from './late.ts'

/** Contacts' words are kept together this often, a person's at once; what came in the last moment before a power cut is lost. */
const EVERY_MILLISECONDS = 400
/** In a storm keeping takes at most this share of the time, and waits at most this long. */
const SHARE = 0.1
const LONGEST_MILLISECONDS = 5_000
/** Words that wait for a store that fails; beyond this the oldest are dropped. */
const MOST_WAITING = 10_000

/** Where entries go, as it is now. */
export interface Place {
  readonly name: string | undefined
  readonly store: Store<Ledger> | undefined
  readonly ledger: Ledger | undefined
}

/** What waits to be kept: one commit after the other, so that the entries of each opening are kept in their order. */
export class Commits {
  /** False when the browser keeps nothing: the tally then lasts until the next reload. */
  kept = true
  readonly #place: () => Place
  readonly #elapsed: () => number
  readonly #changed: () => void
  #waiting: Entry[] = []
  #done: Promise<void> = Promise.resolve()
  #after = EVERY_MILLISECONDS
  #timer: ReturnType<typeof setTimeout> | undefined

  constructor(place: () => Place, elapsed: () => number, changed: () => void) {
    this.#place = place
    this.#elapsed = elapsed
    this.#changed = changed
  }

  wait(entries: readonly Entry[]): void {
    this.#waiting.push(...entries)
  }

  /** What waits belongs to another page or another house now. */
  forget(): void {
    this.#waiting = []
  }

  soon(): void {
    this.#timer ??= setTimeout(this.#ring, this.#after)
  }

  /** The page may end before the store has answered. */
  leave(): void {
    const { name, store } = this.#place()
    if (name !== undefined && store) saveLate(name, this.#waiting)
  }

  /** An empty ledger: since when this tablet counts must survive a reload before the first word. */
  keepEmpty(): void {
    this.#done = this.#done.then(async () => {
      const { store, ledger } = this.#place()
      if (ledger) await store?.commit([], ledger).catch(() => {})
    })
  }

  now(): Promise<void> {
    clearTimeout(this.#timer)
    this.#timer = undefined
    const place = this.#place()
    const waiting = this.#waiting
    if (waiting.length > 0) this.#done = this.#done.then(() => this.#keep(place, waiting))
    return this.#done
  }

  readonly #ring = () => {
    void this.now()
  }

  async #keep({ name, store, ledger }: Place, waiting: Entry[]): Promise<void> {
    // Asked first: what is counted by that is among the entries.
    const now = this.#place()
    const entries = [...waiting]
    if (entries.length === 0 || !ledger || name === undefined) return
    const started = this.#elapsed()
    try {
      await store?.commit(entries, (now.store === store && now.ledger) || ledger)
      waiting.splice(0, entries.length)
      if (waiting.length === 0) takeLate(name)
      const took = this.#elapsed() - started
      this.#after = Math.min(LONGEST_MILLISECONDS, Math.max(EVERY_MILLISECONDS, took / SHARE))
      if (store && !this.kept) this.#now(true)
    } catch {
      waiting.splice(0, waiting.length - MOST_WAITING)
      if (this.#place().store !== store) {
        saveLate(name, waiting)
        return
      }
      this.#timer ??= setTimeout(this.#ring, LONGEST_MILLISECONDS)
      this.#now(false)
    }
  }

  #now(kept: boolean): void {
    this.kept = kept
    this.#changed()
  }
}
