import type { Ledger } from '../../ledger/apply.ts'
import type { Store } from '../../ledger/store.ts'
import type { Entry } from '../../protocol/entry.ts'
import type { CardWorld } from '../world.ts'
import { inTime } from './late.ts'
import { type Pen, takePen } from './tab-lock.ts'

interface On {
  /** Another page keeps the tally from now on. */
  givenAway(): void
  /** What was kept has been read: nothing where the shelf is new, or the browser keeps nothing. */
  opened(ledger: Ledger | undefined, isKept: boolean): void
  /** Another page noted what a person said. */
  said(entry: Entry): void
}

/** Where the tally of a house is kept on this tablet, and whether it is this page's turn to keep it. */
export class Shelf {
  /** False while another page on this tablet keeps the tally. */
  writes = true
  /** Whose turn it is has been found out. */
  isDecided = false
  isReading = false
  readonly #world: () => CardWorld
  readonly #on: On
  #name: string | undefined
  #opened: Store<Ledger> | undefined
  #store: Store<Ledger> | undefined
  #pen: Pen | undefined
  /** Which reading this is: a later one goes before. */
  #reading = 0
  #closing: Promise<void> = Promise.resolve()

  constructor(world: () => CardWorld, on: On) {
    this.#world = world
    this.#on = on
  }

  get name(): string | undefined {
    return this.#name
  }

  /** Once it has been read. */
  get store(): Store<Ledger> | undefined {
    return this.#store
  }

  /** A person's entry, for the other pages. */
  tell(entry: Entry): void {
    if (this.writes) this.#pen?.tell(entry)
  }

  open(name: string): void {
    this.isDecided = false
    this.#name = name
    const store = this.#world().store?.(name)
    this.#opened = store
    void this.#closing.then(() => {
      if (this.#name !== name || this.#pen) return
      this.#pen = takePen(name, {
        turn: writes => void this.#read(store, writes),
        said: entry => {
          if (!this.writes) this.#on.said(entry)
        },
      })
    })
  }

  /**
   * Lets another page keep the tally.
   * @param kept - when what waited has been kept
   */
  shut(kept: Promise<unknown>): void {
    const [store, pen] = [this.#opened, this.#pen]
    const letGo = () => {
      pen?.drop()
      store?.close().catch(() => {})
    }
    this.#closing = inTime(kept).then(letGo, letGo)
    this.#reading++
    this.#opened = undefined
    this.#store = undefined
    this.#name = undefined
    this.#pen = undefined
  }

  /** Anew whenever it is another page's turn: what that page kept is read. */
  async #read(store: Store<Ledger> | undefined, writes: boolean): Promise<void> {
    const reading = ++this.#reading
    this.isReading = true
    if (!writes) {
      this.writes = false
      this.#on.givenAway()
    }
    let ledger: Ledger | undefined
    let isKept = store !== undefined
    try {
      ledger = await (store && inTime(store.load()))
    } catch {
      isKept = false
    }
    if (reading !== this.#reading) return
    this.isReading = false
    this.writes = writes || !isKept
    this.isDecided = true
    this.#store = isKept ? store : undefined
    this.#on.opened(ledger, isKept)
  }
}
