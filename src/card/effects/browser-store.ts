import { type DBSchema, type IDBPDatabase, openDB } from 'idb'
import * as z from 'zod/mini'
import type { Ledger } from '../../ledger/apply.ts'
import { isLedger, LEDGER_FORMAT } from '../../ledger/kept-ledger.ts'
import type { Store } from '../../ledger/store.ts'
import type { MarkState } from '../../ledger/window.ts'
import { type Entry, soundEntry } from '../../protocol/entry.ts'
import { fitting } from '../../protocol/fitting.ts'
import { anyTime, map } from '../../protocol/parts.ts'

interface Shape extends DBSchema {
  /** The ledger without its marks, and the name of its shape, under the key `ledger`. */
  kept: { key: string; value: Omit<Ledger, 'marks'> & { readonly format?: string } }
  marks: { key: string; value: MarkState }
  /** What was kept at once: the database takes as long for one entry as for many. */
  entries: { key: number; value: { readonly entries: readonly Entry[] } }
}

const recordSchema = map({ entries: z.array(z.unknown()) })

/** What of a record can count; one of an earlier version is an entry itself. */
const soundIn = (record: unknown): readonly Entry[] =>
  (recordSchema.safeParse(record).data?.entries ?? [record]).flatMap(entry => soundEntry(entry) ?? [])

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

class BrowserStore implements Store<Ledger> {
  readonly #database: Promise<IDBPDatabase<Shape>>
  #written: Ledger['marks'] = {}

  constructor(name: string) {
    this.#database = openDB<Shape>(`sashtally ${name}`, 1, {
      upgrade(database) {
        database.createObjectStore('kept')
        database.createObjectStore('marks')
        database.createObjectStore('entries', { autoIncrement: true })
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

  async since(): Promise<string | undefined> {
    const kept = await (await this.#database).get('kept', 'ledger')
    return fitting(anyTime, kept?.since)
  }

  async commit(entries: readonly Entry[], ledger: Ledger): Promise<void> {
    const write = (await this.#database).transaction(['kept', 'marks', 'entries'], 'readwrite')
    const { marks, ...kept } = ledger
    const states = write.objectStore('marks')
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
      ...(entries.length === 0 ? [] : [() => write.objectStore('entries').add({ entries })]),
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

  async close(): Promise<void> {
    const database = await this.#database
    database.close()
  }
}
