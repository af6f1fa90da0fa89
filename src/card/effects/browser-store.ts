import { type DBSchema, type IDBPDatabase, openDB } from 'idb'
import type { Ledger } from '../../ledger/apply.ts'
import { isLedger, LEDGER_FORMAT } from '../../ledger/kept-ledger.ts'
import type { Store } from '../../ledger/store.ts'
import type { MarkState } from '../../ledger/window.ts'
import { type Entry, soundEntry } from '../../protocol/entry.ts'

interface Shape extends DBSchema {
  /** The ledger without its marks, and the name of its shape, under the key `ledger`. */
  kept: { key: string; value: Omit<Ledger, 'marks'> & { readonly format?: string } }
  marks: { key: string; value: MarkState }
  /** What was kept of an opening at once; a record of an earlier version is one entry. */
  entries: { key: number; value: Batch | (Entry & { entries?: never }); indexes: { mark: string } }
}

interface Batch {
  readonly mark: string
  readonly entries: readonly Entry[]
}

/** What of a record can count. */
const soundIn = (record: Shape['entries']['value']): Entry[] =>
  (record.entries ?? [record]).flatMap(entry => soundEntry(entry) ?? [])

/** Records handed to the database before the page gets its turn. */
const AT_ONCE = 50

/**
 * The tally of one house in this browser's IndexedDB. A commit writes only the marks whose state changed since the
 * last one.
 * @param name - one database a house
 */
export function browserStore(name: string): Store<Ledger> {
  return new BrowserStore(name)
}

/** By opening: the database takes as long for one entry as for many together. */
function batches(entries: readonly Entry[]): readonly Batch[] {
  const byMark = new Map<string, Entry[]>()
  for (const entry of entries) {
    const group = byMark.get(entry.mark)
    if (group) group.push(entry)
    else byMark.set(entry.mark, [entry])
  }
  return [...byMark].map(([mark, entries]) => ({ mark, entries }))
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
    const { format, ...rest } = kept
    const ledger = { ...rest, marks: Object.fromEntries(names.map((mark, index) => [mark, states[index]!])) }
    this.#written = ledger.marks
    return format === LEDGER_FORMAT && isLedger(ledger) ? ledger : undefined
  }

  async all(): Promise<readonly Entry[]> {
    const kept = await (await this.#database).getAll('entries')
    return kept.flatMap(soundIn)
  }

  async commit(entries: readonly Entry[], ledger: Ledger): Promise<void> {
    const write = (await this.#database).transaction(['kept', 'marks', 'entries'], 'readwrite')
    const { marks, ...kept } = ledger
    const [states, story] = [write.objectStore('marks'), write.objectStore('entries')]
    const changed = Object.entries(marks).filter(([mark, state]) => state !== this.#written[mark])
    const gone = Object.keys(this.#written).filter(mark => !Object.hasOwn(marks, mark))
    const jobs = [
      () => write.objectStore('kept').put({ ...kept, format: LEDGER_FORMAT }, 'ledger'),
      ...changed.map(
        ([mark, state]) =>
          () =>
            states.put(state, mark),
      ),
      ...gone.map(mark => () => states.delete(mark)),
      ...batches(entries).map(batch => () => story.add(batch)),
    ]
    // One transaction, but not one task: the sheet is drawn in between.
    const written = write.done
    written.catch(() => {})
    for (let done = 0; done < jobs.length; done += AT_ONCE) {
      await Promise.all(jobs.slice(done, done + AT_ONCE).map(job => job()))
    }
    await written
    this.#written = marks
  }

  async story(mark: string, limit: number): Promise<readonly Entry[]> {
    const index = (await this.#database).transaction('entries').store.index('mark')
    const newest: Entry[] = []
    for (let at = await index.openCursor(mark, 'prev'); at && newest.length < limit; at = await at.continue()) {
      newest.push(...soundIn(at.value).reverse())
    }
    return newest.slice(0, limit).reverse()
  }

  async close(): Promise<void> {
    const database = await this.#database
    database.close()
  }
}
