import type { Ledger } from '../../ledger/apply.ts'
import type { Store } from '../../ledger/store.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { Loaded } from '../state/event.ts'
import type { CardWorld } from '../world.ts'
import { inTime } from './in-time.ts'
import { openTabLock, type TabLock } from './tab-lock.ts'

/** What a store was found to hold. */
interface ReadTally extends Pick<Loaded, 'ledger' | 'entries' | 'since' | 'isKept' | 'writes'> {}

interface On {
  /** What is kept is read: at first, and whenever it is another page's turn to keep the tally. */
  reading(writes: boolean): void
  /** It has been read. */
  read(name: string, read: ReadTally): void
  /** Another page noted what a person said. */
  said(entry: Entry): void
}

/** The store of a house's tally on this tablet, and the pages that take turns at keeping it. */
export class TabStore {
  readonly #world: () => CardWorld
  readonly #on: On
  #name: string | undefined
  #opened: Store<Ledger> | undefined
  /** Once it has been read. */
  #store: Store<Ledger> | undefined
  #lock: TabLock | undefined
  /** Which reading this is: a later one goes before. */
  #reading = 0
  #closing: Promise<void> = Promise.resolve()

  constructor(world: () => CardWorld, on: On) {
    this.#world = world
    this.#on = on
  }

  /** Undefined until it has been read, and where the browser keeps nothing. */
  readonly target = (): { readonly name: string; readonly store: Store<Ledger> } | undefined =>
    this.#name !== undefined && this.#store ? { name: this.#name, store: this.#store } : undefined

  /** A person's entry, for the other pages. */
  tell(entry: Entry): void {
    this.#lock?.tell(entry)
  }

  open(name: string): void {
    this.#name = name
    const store = this.#world().store?.(name)
    this.#opened = store
    void this.#closing.then(() => {
      if (this.#name !== name || this.#lock) return
      this.#lock = openTabLock(name, {
        turn: writes => void this.#read(name, store, writes),
        said: entry => this.#on.said(entry),
      })
    })
  }

  /**
   * Lets another page keep the tally.
   * @param kept - when what waited has been kept
   */
  shut(kept: Promise<unknown>): void {
    const [store, lock] = [this.#opened, this.#lock]
    const letGo = () => {
      lock?.drop()
      store?.close().catch(() => {})
    }
    this.#closing = inTime(kept).then(letGo, letGo)
    this.#reading++
    this.#opened = undefined
    this.#store = undefined
    this.#name = undefined
    this.#lock = undefined
  }

  async #read(name: string, store: Store<Ledger> | undefined, writes: boolean): Promise<void> {
    const reading = ++this.#reading
    this.#on.reading(writes)
    let ledger: Ledger | undefined
    let entries: readonly Entry[] = []
    let since: string | undefined
    let isKept = store !== undefined
    try {
      ledger = await (store && inTime(store.load()))
      if (store && !ledger) [entries, since] = await inTime(Promise.all([store.all(), store.since()]))
    } catch {
      isKept = false
    }
    if (reading !== this.#reading) return
    this.#store = isKept ? store : undefined
    this.#on.read(name, { ledger, entries, since, isKept, writes })
  }
}
