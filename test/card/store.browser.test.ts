import { expect } from 'chai'
import { browserStore } from '../../src/card/effects/browser-store.ts'
import { applyAll, startLedger } from '../../src/ledger/apply.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { COIN } from '../ledger/notation.ts'

const entry = (n: number, mark: string): Entry => ({
  id: `e${n}`,
  at: new Date(Date.parse('2026-11-25T10:00:00Z') + n * 60_000).toISOString(),
  mark,
  what: 'opened',
  how: 'live',
})
const BEGAN = '2026-06-01T08:00:00.000Z'
const name = () => `test ${Math.random()}`

describe('the browser’s store', () => {
  /** Changes what stands in the database, as another version of the card or somebody else on the page may. */
  async function meddle(house: string, change: (write: IDBTransaction) => void): Promise<void> {
    const asked = indexedDB.open(`sashtally ${house}`)
    const database = await new Promise<IDBDatabase>(done => {
      asked.onsuccess = () => done(asked.result)
    })
    const write = database.transaction(['kept', 'marks', 'entries'], 'readwrite')
    change(write)
    await new Promise(done => {
      write.oncomplete = done
    })
    database.close()
  }

  it('gives back the ledger that was committed, and all entries in their order', async () => {
    const policy = { W01: COIN, W02: COIN }
    const house = name()
    const store = browserStore(house)
    expect(await store.load()).to.equal(undefined)
    const first = [entry(1, 'W01'), entry(2, 'W02')]
    const second = [entry(3, 'W01'), entry(4, 'W01')]
    const ledger = applyAll(startLedger(policy, entry(0, 'W01').at), first)
    await store.commit(first, ledger)
    const later = applyAll(ledger, second)
    await store.commit(second, later)
    await store.close()
    const again = browserStore(house)
    expect(await again.load()).to.deep.equal(later)
    expect(await again.all()).to.deep.equal([...first, ...second])
    await again.close()
  })

  it('tells what an earlier version kept entry by entry together with what came since', async () => {
    const house = name()
    const store = browserStore(house)
    await store.load()
    const since = [entry(3, 'W01'), entry(4, 'W02'), entry(5, 'W01')]
    await meddle(house, write => {
      for (const n of [1, 2]) write.objectStore('entries').add(entry(n, 'W01'))
      write.objectStore('entries').add({ mark: 'W01', entries: [entry(6, 'W01'), null, { id: 'e7' }] })
      for (const record of [null, 7, 'e8', [], { entries: 'e9' }]) write.objectStore('entries').add(record)
    })
    await store.commit(since, startLedger({}))
    expect((await store.all()).map(each => each.id)).to.deep.equal(['e1', 'e2', 'e6', 'e3', 'e4', 'e5'])
    await store.close()
  })

  const changes: readonly (readonly [
    what: string,
    since: string | undefined,
    change: (write: IDBTransaction) => void,
  ])[] = [
    ['of an earlier version', BEGAN, write => write.objectStore('kept').put(startLedger({}, BEGAN), 'ledger')],
    ['that began at no time', undefined, write => write.objectStore('kept').put({ since: 'in June' }, 'ledger')],
    ['that is a text', undefined, write => write.objectStore('kept').put('ledger', 'ledger')],
    ['that is gone', undefined, write => write.objectStore('kept').clear()],
    [
      'with a mark that is none',
      BEGAN,
      write => write.objectStore('marks').put({ base: {}, window: [], fold: {} }, 'W01'),
    ],
    ['with a mark that nobody wrote', BEGAN, write => write.objectStore('marks').put(null, 'W07')],
  ]
  for (const [what, since, change] of changes) {
    it(`a ledger ${what} is not given back, all entries are, and the next commit mends it`, async () => {
      const house = name()
      const all = [entry(1, 'W01'), entry(2, 'W02'), entry(3, 'W01')]
      const ledger = applyAll(startLedger({ W01: COIN, W02: COIN }, BEGAN), all)
      const store = browserStore(house)
      await store.load()
      await store.commit(all, ledger)
      await store.close()
      await meddle(house, change)
      const again = browserStore(house)
      expect(await again.load()).to.equal(undefined)
      expect(await again.all()).to.deep.equal(all)
      expect(await again.since()).to.equal(since)
      await again.commit([], ledger)
      await again.close()
      const last = browserStore(house)
      expect(await last.load()).to.deep.equal(ledger)
      await last.close()
    })
  }

  it('forgets a mark that the ledger no longer has', async () => {
    const house = name()
    const store = browserStore(house)
    const both = applyAll(startLedger({ W01: COIN, W02: COIN }), [entry(1, 'W01'), entry(2, 'W02')])
    await store.commit([], both)
    const { W02: _gone, ...marks } = both.marks
    await store.commit([], { ...both, marks })
    await store.close()
    expect(Object.keys((await browserStore(house).load())?.marks ?? {})).to.deep.equal(['W01'])
  })
})
