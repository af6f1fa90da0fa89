import { spawnSync } from 'node:child_process'
import { copyFileSync, existsSync, mkdirSync, readFileSync, statSync, truncateSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { EntryFilter } from '../../src/keeper/store/entry-filter.ts'
import { entryOf, rowOf } from '../../src/keeper/store/rows.ts'
import { openSqlite } from '../../src/keeper/store/sqlite.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { StoreProblem } from '../../src/keeper/store/store-problem.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { HOWS } from '../../src/protocol/entry.ts'
import { WHATS } from '../../src/protocol/whats.ts'
import { listing, opened, tempFolder } from './folder.ts'

const BORN = '2026-06-01T00:00:00.000Z'
const open = (folder: string, mode: 'write' | 'read' = 'write') => TallyStore.open(folder, mode, listing)
const ids = (count: number, from = 0) => Array.from({ length: count }, (_, i) => `e${from + i}`)

/** Commits `count` entries, `each` in a transaction, and returns the ledger after them. */
async function fill(store: TallyStore<{ born: string; ids: readonly string[] }>, count: number, each = 1, from = 0) {
  let { kept } = store.replay(BORN)
  for (let n = from; n < from + count; n += each) {
    const entries = Array.from({ length: Math.min(each, from + count - n) }, (_, i) => opened(n + i))
    kept = { ...kept, ids: [...kept.ids, ...entries.map(entry => entry.id)] }
    store.commitBatch({ entries: entries, kept: kept })
  }
  return kept
}

function faultOf(work: () => unknown): { fault: string; message: string } {
  try {
    work()
  } catch (error) {
    if (error instanceof StoreProblem) return { fault: error.fault, message: error.message }
    throw error
  }
  throw new Error('nothing was refused')
}

describe('what was committed', () => {
  it('is read back in the order of its commit', async () => {
    const folder = tempFolder()
    const store = open(folder)
    const entries = [
      opened(2),
      opened(1, { how: 'said', what: 'seen-closed', by: 'Ada', note: 'a "quoted" line\n' }),
      opened(3),
    ]
    store.commitBatch({ entries: entries, kept: { born: BORN, ids: ids(3) } })
    await store.close()
    expect([...open(folder, 'read').entries()]).toEqual(entries)
  })

  it('comes back the same whatever an entry holds', () => {
    const text = fc.option(fc.string({ unit: 'binary' }), { nil: undefined })
    const entry = fc.record(
      {
        id: fc.stringMatching(/^[0-9A-Za-z-]{1,36}$/),
        at: fc
          .date({ min: new Date(0), max: new Date('9999-01-01'), noInvalidDate: true })
          .map(date => date.toISOString()),
        mark: fc.stringMatching(/^[A-Za-z0-9][A-Za-z0-9-]{0,15}$/),
        what: fc.constantFrom(...WHATS),
        how: fc.constantFrom(...HOWS),
        text,
        by: text,
        boots: fc.nat(),
        millivolts: fc.nat(4000),
        until: fc
          .date({ min: new Date(0), max: new Date('9999-01-01'), noInvalidDate: true })
          .map(date => date.toISOString()),
        cell: fc.record({ type: fc.string(), batch: fc.string() }),
      },
      { requiredKeys: ['id', 'at', 'mark', 'what', 'how'] },
    ) as fc.Arbitrary<Entry>
    fc.assert(
      fc.property(entry, given => {
        const [id, at, mark, body] = rowOf(given)
        expect(entryOf({ id, at, mark, body })).toEqual(JSON.parse(JSON.stringify(given)))
      }),
    )
  })

  it('an id that stands already refuses the whole transaction', async () => {
    const store = open(tempFolder())
    const kept = await fill(store, 3)
    expect(() => store.commitBatch({ entries: [opened(9), opened(1)], kept: kept })).toThrow()
    expect([...store.entries()].map(entry => entry.id)).toEqual(ids(3))
    store.commitBatch({ entries: [opened(9)], kept: kept })
    expect(store.length).toBe(4)
  })

  it('is found by its mark, its time and what it says', () => {
    const entries = [
      opened(1),
      opened(2, { mark: 'W08', what: 'proved', text: '{"what":"failed"}' }),
      opened(3, { mark: 'W08', what: 'failed' }),
      opened(4, { what: 'note', note: '"what":"proved","revision":"01234567"' }),
      opened(5, { revision: '01234567' }),
    ]
    const store = TallyStore.inMemory(listing, entries)
    const found = (only: EntryFilter) => [...store.entries(only)].map(({ id }) => id)
    expect(found({ whats: ['proved', 'failed'] })).toEqual(['e2', 'e3'])
    expect(found({ whats: ['failed'] })).toEqual(['e3'])
    expect(found({ whats: [] })).toEqual([])
    expect(found({ marks: ['W07'] })).toEqual(['e1', 'e4', 'e5'])
    expect(found({ marks: ['W07'], whats: ['opened', 'failed'] })).toEqual(['e1', 'e5'])
    expect(found({ sinceMs: Date.parse(opened(3).at) })).toEqual(['e3', 'e4', 'e5'])
    expect(found({ hasRevision: true })).toEqual(['e5'])
    expect(found({ from: 2, to: 4 })).toEqual(['e2', 'e3'])
    expect(store.newest({ marks: ['W08', 'W07'], to: 5 })).toEqual({ seq: 4, entry: entries[3] })
    expect(store.newest({ marks: ['W09'] })).toBeUndefined()
    expect(store.replay(BORN).kept.ids).toEqual(ids(5, 1))
    expect(store.find('e2')).toEqual(entries[1])
    expect(store.find('e7')).toBeUndefined()
  })
})

describe('a start', () => {
  it('replays only what came after the snapshot', async () => {
    const folder = tempFolder()
    const store = open(folder)
    const kept = await fill(store, 4_500, 100)
    await store.close()
    const again = open(folder)
    const { kept: found, replayed } = again.replay(BORN)
    expect(found).toEqual(kept)
    expect(replayed).toBe(500)
    again.commitBatch({ entries: [], kept: found, snapshot: true })
    await again.close()
    expect(open(folder, 'read').replay(BORN).replayed).toBe(0)
  })

  it('counts again from the first entry when the snapshot is of another shape', async () => {
    const folder = tempFolder()
    const store = open(folder)
    store.commitBatch({ entries: [], kept: { born: 'stale', ids: ['stale'] }, snapshot: true })
    const kept = await fill(open(folder), 0)
    expect(kept.ids).toEqual(['stale'])
    const other = TallyStore.open(folder, 'read', { ...listing, format: 'ids 2' })
    expect(other.replay(BORN).kept).toEqual({ born: BORN, ids: [] })
  })

  it('a reader sees what a running writer has committed and changes nothing', async () => {
    const folder = tempFolder()
    const writer = open(folder)
    await fill(writer, 5)
    const reader = open(folder, 'read')
    expect(reader.replay(BORN).kept.ids).toEqual(ids(5))
    await fill(writer, 5, 1, 5)
    expect(reader.replay(BORN).kept.ids).toEqual(ids(10))
    expect(faultOf(() => reader.commitBatch({ entries: [opened(99)], kept: { born: BORN, ids: [] } })).fault).toBe(
      'read-only',
    )
    expect(writer.length).toBe(10)
  })
})

describe('a copy taken while it is written', () => {
  it('is whole and refuses to overwrite', async () => {
    const folder = tempFolder()
    const store = open(folder)
    await fill(store, 50)
    const copy = join(tempFolder(), 'tally.sqlite')
    open(folder, 'read').backup(copy)
    await fill(store, 50, 1, 50)
    expect([...open(join(copy, '..'), 'read').entries()].map(entry => entry.id)).toEqual(ids(50))
    expect(() => store.backup(copy)).toThrow()
  })
})

describe('damage', () => {
  it('a log cut anywhere keeps every whole transaction before the cut', async () => {
    const folder = tempFolder()
    const store = open(folder)
    await fill(store, 40)
    const main = join(folder, 'tally.sqlite')
    const log = `${main}-wal`
    const size = statSync(log).size
    expect(size).toBeGreaterThan(40 * 4096)
    let last = -1
    for (let cut = 0; cut <= size; cut += Math.ceil(size / 37)) {
      const copy = tempFolder()
      copyFileSync(main, join(copy, 'tally.sqlite'))
      copyFileSync(log, join(copy, 'tally.sqlite-wal'))
      truncateSync(join(copy, 'tally.sqlite-wal'), cut)
      const found = cut < 32 * 1024 ? undefined : [...open(copy).entries()].map(entry => entry.id)
      if (!found) continue
      expect(found).toEqual(ids(found.length))
      expect(found.length).toBeGreaterThanOrEqual(last)
      last = found.length
    }
    expect(last).toBeGreaterThan(30)
    await store.close()
  })

  it('a process that ends in the middle of writing leaves whole transactions only', () => {
    const folder = tempFolder()
    const script = `
      const Database = require('libsql')
      const sql = new Database(${JSON.stringify(join(folder, 'tally.sqlite'))})
      const insert = sql.prepare('insert into entries (seq, id, at, mark, body, sum) values (?, ?, ?, ?, ?, 0)')
      let seq = 0
      for (;;) {
        sql.exec('begin immediate')
        for (let i = 0; i < 7; i++) { seq++; insert.run([seq, 'e' + seq, 0, 'W07', '{"what":"opened","how":"live"}']) }
        if (seq === 70) process.kill(process.pid, 'SIGKILL')
        sql.exec('commit')
      }`
    void open(folder)
    const ended = spawnSync(process.execPath, ['-e', script], { cwd: process.cwd() })
    expect(ended.signal).toBe('SIGKILL')
    expect(open(folder).length).toBe(63)
  })
})

describe('a sentence for', () => {
  it('a damaged page, whichever way the entries are read', async () => {
    const folder = tempFolder()
    const store = open(folder)
    store.commitBatch({ entries: Array.from({ length: 2_000 }, (_, n) => opened(n)) })
    await store.close()
    const path = join(folder, 'tally.sqlite')
    const bytes = readFileSync(path)
    // Leaves of the table of entries (a table leaf begins with 0x0d; sqlite.org/fileformat2.html, section 1.6).
    const leaves = Array.from({ length: bytes.length / 4096 }, (_, n) => n).filter(n => bytes[n * 4096] === 0x0d)
    const spoil = (leaf: number) => bytes.fill(0xee, leaf * 4096, leaf * 4096 + 4096)
    for (const leaf of leaves.slice(-20, -1)) spoil(leaf)
    writeFileSync(path, bytes)
    const damaged = open(folder, 'read')
    const sentence = /tally\.sqlite: it is damaged: run `sashtally mend` on its folder/
    expect(() => [...damaged.entries()]).toThrow(sentence)
    expect(() => [...damaged.entries({ sinceMs: 0 })]).toThrow(sentence)
    expect(() => damaged.replay('')).toThrow(sentence)
    expect(() => [...damaged.recount(listing)]).toThrow(sentence)
    expect(() => [...damaged.entries({ marks: ['W07'] })]).toThrow(sentence)
    expect(() => damaged.newest({ marks: ['W07'], whats: ['note'] })).toThrow(sentence)
    spoil(leaves.at(-1)!)
    writeFileSync(path, bytes)
    expect(() => open(folder, 'read')).toThrow(sentence)
    expect(() => open(folder, 'write')).toThrow(sentence)
  })

  it('a full disk: nothing of the batch is kept, and it goes on when there is space', async () => {
    const folder = tempFolder()
    const path = join(folder, 'tally.sqlite')
    const sql = openSqlite(path, 'write')
    const store = new TallyStore(sql, listing, path)
    const kept = await fill(store, 10)
    const pages = (sql.prepare('pragma page_count').get([]) as { page_count: number }).page_count
    sql.exec(`pragma max_page_count = ${pages}`)
    const big = Array.from({ length: 200 }, (_, n) => opened(100 + n))
    const { fault, message } = faultOf(() => store.commitBatch({ entries: big, kept }))
    expect(fault).toBe('full')
    expect(message).toMatch(/tally\.sqlite: the disk is full: free some space/)
    expect([...store.entries()]).toHaveLength(10)
    sql.exec('pragma max_page_count = 100000')
    store.commitBatch({ entries: big, kept })
    expect(store.length).toBe(210)
  })

  it('a file size limit of the system', () => {
    const folder = tempFolder()
    void open(folder)
    const script = `
      const Database = require('libsql')
      const sql = new Database(${JSON.stringify(join(folder, 'tally.sqlite'))})
      const insert = sql.prepare('insert into entries (seq, id, at, mark, body, sum) values (?, ?, ?, ?, ?, 0)')
      let seq = 0
      try { for (;;) { seq++; insert.run([seq, 'e' + seq, 0, 'W07', JSON.stringify({ what: 'opened', how: 'live', note: 'x'.repeat(2000) })]); console.log(seq) } }
      catch (error) { console.log(error.code) }`
    const ended = spawnSync('bash', ['-c', 'ulimit -f 400; exec "$0" -e "$1"', process.execPath, script], {
      encoding: 'utf8',
    })
    const lines = ended.stdout.trim().split('\n')
    expect(lines.at(-1)).toMatch(/^SQLITE_(FULL|IOERR)/)
    const told = Number(lines.at(-2))
    expect(told).toBeGreaterThan(10)
    expect(open(folder).length).toBe(told)
  })

  it('a read-only disk', async () => {
    const folder = tempFolder()
    const path = join(folder, 'tally.sqlite')
    const sql = openSqlite(path, 'write')
    const store = new TallyStore(sql, listing, path)
    const kept = await fill(store, 3)
    sql.exec('pragma query_only = 1')
    const { fault, message } = faultOf(() => store.commitBatch({ entries: [opened(7)], kept }))
    expect(fault).toBe('read-only')
    expect(message).toMatch(/read-only: make it writable/)
    expect(store.length).toBe(3)
    expect(faultOf(() => open(join(path, 'inside-a-file'))).message).toMatch(/cannot be made/)
  })

  it('a store from a newer version, and it is not touched', async () => {
    const folder = tempFolder()
    const path = join(folder, 'tally.sqlite')
    await open(folder).close()
    const sql = openSqlite(path, 'write')
    sql.exec('pragma user_version = 7')
    for (const mode of ['write', 'read'] as const) {
      const { fault, message } = faultOf(() => open(folder, mode))
      expect(fault).toBe('newer')
      expect(message).toMatch(/store version 7, this one reads 2.*nothing was touched; install the newer/)
    }
  })

  it('a file that is no tally, another database, and none at all', () => {
    const folder = tempFolder()
    writeFileSync(join(folder, 'tally.sqlite'), 'W07 opened\n'.repeat(500))
    expect(faultOf(() => open(folder)).fault).toBe('foreign')
    const other = tempFolder()
    openSqlite(join(other, 'tally.sqlite'), 'write').exec('create table recipes (x)')
    expect(faultOf(() => open(other)).fault).toBe('foreign')
    const none = tempFolder()
    expect(faultOf(() => open(none, 'read'))).toEqual({
      fault: 'missing',
      message: expect.stringMatching(/no tally here yet/),
    })
    expect(existsSync(join(none, 'tally.sqlite'))).toBe(false)
    mkdirSync(join(none, 'tally.sqlite'))
    expect(faultOf(() => open(none)).fault).toBe('read-only')
  })
})
