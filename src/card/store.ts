import { type DBSchema, type IDBPDatabase, openDB } from 'idb'
import type { Ledger, MarkState } from '../ledger/apply.ts'
import type { Entry, Store } from '../ledger/types.ts'

interface Shape extends DBSchema {
  /** The ledger without its marks, under the key `ledger`. */
  kept: { key: string; value: Omit<Ledger, 'marks'> }
  marks: { key: string; value: MarkState }
  entries: { key: number; value: Entry; indexes: { mark: string } }
}

/**
 * The tally of one house in this browser's IndexedDB. A commit writes only the marks whose state changed since the
 * last one.
 * @param name - one database a house
 */
export function browserStore(name: string): Store<Ledger> {
  return new BrowserStore(name)
}

class BrowserStore implements Store<Ledger> {
  readonly #database: Promise<IDBPDatabase<Shape>>
  #written: Ledger['marks'] = {}

  constructor(name: string) {
    this.#database = openDB<Shape>(`sashtally ${name}`, 1, {
      upgrade(database) {
        database.createObjectStore('kept')
        database.createObjectStore('marks')
        database.createObjectStore('entries', { autoIncrement: true }).createIndex('mark', 'mark')
      },
    })
    this.#database.catch(() => {})
  }

  async load(): Promise<Ledger | undefined> {
    const read = (await this.#database).transaction(['kept', 'marks'])
    const [kept, names, states] = await Promise.all([
      read.objectStore('kept').get('ledger'),
      read.objectStore('marks').getAllKeys(),
      read.objectStore('marks').getAll(),
    ])
    if (!kept) return undefined
    const marks = Object.fromEntries(names.map((mark, index) => [mark, states[index]!]))
    this.#written = marks
    return { ...kept, marks }
  }

  async commit(entries: readonly Entry[], ledger: Ledger): Promise<void> {
    const write = (await this.#database).transaction(['kept', 'marks', 'entries'], 'readwrite')
    const { marks, ...kept } = ledger
    const jobs: Promise<unknown>[] = [write.objectStore('kept').put(kept, 'ledger')]
    for (const [mark, state] of Object.entries(marks)) {
      if (state !== this.#written[mark]) jobs.push(write.objectStore('marks').put(state, mark))
    }
    for (const mark of Object.keys(this.#written)) {
      if (!Object.hasOwn(marks, mark)) jobs.push(write.objectStore('marks').delete(mark))
    }
    for (const entry of entries) jobs.push(write.objectStore('entries').add(entry))
    await Promise.all([...jobs, write.done])
    this.#written = marks
  }

  async story(mark: string, limit: number): Promise<readonly Entry[]> {
    const index = (await this.#database).transaction('entries').store.index('mark')
    const newest: Entry[] = []
    for (let at = await index.openCursor(mark, 'prev'); at && newest.length < limit; at = await at.continue()) {
      newest.push(at.value)
    }
    return newest.reverse()
  }

  async close(): Promise<void> {
    const database = await this.#database
    database.close()
  }
}
