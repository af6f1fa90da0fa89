import * as z from 'zod/mini'
import type { Ledger } from '../../ledger/apply.ts'
import { isLedger, LEDGER_FORMAT } from '../../ledger/kept-ledger.ts'
import type { Store } from '../../ledger/store.ts'
import type { MarkState } from '../../ledger/window.ts'
import { type Entry, soundEntry } from '../../protocol/entry.ts'
import { fitting } from '../../protocol/fitting.ts'
import { anyTime, map } from '../../protocol/parts.ts'
import { answerOf, ended, openDatabase } from './indexed-db.ts'

/** Under the key `ledger`: the ledger without its marks, and the name of its shape. */
type KeptLedger = Omit<Ledger, 'marks'> & { readonly format?: string }

/**
 * `kept` has the ledger, `marks` the state of each mark, `entries` what was kept at once: the database takes as long
 * for one entry as for many.
 */
const STORES = ['kept', 'marks', 'entries'] as const

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
  readonly #database: Promise<IDBDatabase>
  #written: Ledger['marks'] = {}

  constructor(name: string) {
    this.#database = openDatabase(`sashtally ${name}`, database => {
      for (const store of STORES) database.createObjectStore(store, { autoIncrement: store === 'entries' })
    })
    this.#database.catch(() => {})
  }

  async load(): Promise<Ledger | undefined> {
    const read = (await this.#database).transaction(['kept', 'marks'])
    const marks = read.objectStore('marks')
    const [kept, names, states] = await Promise.all([
      answerOf<KeptLedger | undefined>(read.objectStore('kept').get('ledger')),
      answerOf(marks.getAllKeys()),
      answerOf<MarkState[]>(marks.getAll()),
    ])
    if (!kept) return undefined
    const { format, ...rest } = kept
    const ledger = { ...rest, marks: Object.fromEntries(names.map((mark, index) => [mark, states[index]!])) }
    this.#written = ledger.marks
    return format === LEDGER_FORMAT && isLedger(ledger) ? ledger : undefined
  }

  async all(): Promise<readonly Entry[]> {
    const read = (await this.#database).transaction('entries')
    const kept = await answerOf<unknown[]>(read.objectStore('entries').getAll())
    return kept.flatMap(soundIn)
  }

  async since(): Promise<string | undefined> {
    const read = (await this.#database).transaction('kept')
    const kept = await answerOf<KeptLedger | undefined>(read.objectStore('kept').get('ledger'))
    return fitting(anyTime, kept?.since)
  }

  async commit(entries: readonly Entry[], ledger: Ledger): Promise<void> {
    const write = (await this.#database).transaction(STORES, 'readwrite')
    const { marks, ...kept } = ledger
    const states = write.objectStore('marks')
    const changed = Object.entries(marks).filter(([mark, state]) => state !== this.#written[mark])
    const gone = Object.keys(this.#written).filter(mark => !Object.hasOwn(marks, mark))
    const jobs: (() => IDBRequest)[] = [
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
    const written = ended(write)
    written.catch(() => {})
    for (let done = 0; done < jobs.length; done += AT_ONCE) {
      await Promise.all(jobs.slice(done, done + AT_ONCE).map(job => answerOf<unknown>(job())))
    }
    await written
    this.#written = marks
  }

  async close(): Promise<void> {
    const database = await this.#database
    database.close()
  }
}
