import { closeSync, openSync, statSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, expect, it, vi } from 'vitest'
import { mendStore } from '../../src/keeper/repair/mend.ts'
import type { Sql } from '../../src/keeper/store/sqlite.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { listing, opened, tempFolder } from './folder.ts'

const handles: Sql[] = []
let refuses = false
vi.mock('../../src/keeper/store/sqlite.ts', async original => {
  const real = await original<typeof import('../../src/keeper/store/sqlite.ts')>()
  const openSqlite: typeof real.openSqlite = (path, mode) => {
    const sql = real.openSqlite(path, mode)
    handles.push(sql)
    return sql
  }
  const makeSqlite: typeof real.makeSqlite = (path, fill) =>
    real.makeSqlite(path, sql => {
      // A full disk: not one page more.
      if (refuses) sql.exec('pragma max_page_count = 20')
      handles.push(sql)
      fill(sql)
    })
  return { ...real, openSqlite, makeSqlite }
})
afterEach(() => {
  refuses = false
  handles.length = 0
})

async function damaged(): Promise<string> {
  const folder = tempFolder()
  const store = TallyStore.open(folder, 'write', listing)
  store.commitBatch({
    entries: Array.from({ length: 2_000 }, (_, n) => opened(n)),
    kept: { born: '', ids: [] },
    facts: { born: '2026-05-01T00:00:00.000Z' },
  })
  await store.close()
  const path = join(folder, 'tally.sqlite')
  const file = openSync(path, 'r+')
  writeSync(file, Buffer.alloc(4096, 0x55), 0, 4096, (statSync(path).size / 4096 - 4) * 4096)
  closeSync(file)
  handles.length = 0
  return folder
}

it('mending leaves no file open', async () => {
  expect(mendStore(await damaged(), '2026-06-02T08:00:00.000Z').entries).toBeGreaterThan(1_900)
  expect(handles.length).toBeGreaterThan(3)
  expect(handles.filter(({ open }) => open)).toEqual([])
})

it('mending that fails leaves no file open, and is said with the file', async () => {
  const folder = await damaged()
  refuses = true
  expect(() => mendStore(folder, '2026-06-02T08:00:00.000Z')).toThrow(/tally\.sqlite: the disk is full/)
  expect(handles.filter(({ open }) => open)).toEqual([])
  refuses = false
  expect(mendStore(folder, '2026-06-02T08:01:00.000Z').entries).toBeGreaterThan(1_900)
})
