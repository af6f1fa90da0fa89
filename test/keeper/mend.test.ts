import {
  closeSync,
  copyFileSync,
  existsSync,
  openSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
  writeSync,
} from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { mendStore } from '../../src/keeper/repair/mend.ts'
import { salvage } from '../../src/keeper/repair/salvage.ts'
import { takeLock } from '../../src/keeper/store/lock.ts'
import { openSqlite } from '../../src/keeper/store/sqlite.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { listing, opened, tempFolder } from './folder.ts'

const STAMP = '2026-06-02T08:00:00.000Z'

async function filled(count: number): Promise<string> {
  const folder = tempFolder()
  const store = TallyStore.open(folder, 'write', listing)
  store.commitBatch({
    entries: Array.from({ length: count }, (_, n) => opened(n, { note: `note ${n}` })),
    kept: { born: STAMP, ids: [] },
    facts: { born: '2026-05-01T00:00:00.000Z' },
  })
  await store.close()
  return folder
}

function spoil(path: string, offset: number, bytes: Buffer): void {
  const file = openSync(path, 'r+')
  writeSync(file, bytes, 0, bytes.length, offset)
  closeSync(file)
}

describe('mending', () => {
  it('changes nothing in a sound store', async () => {
    const folder = await filled(300)
    const before = readFileSync(join(folder, 'tally.sqlite'))
    expect(mendStore(folder, STAMP)).toEqual({ problems: [], entries: 300, lost: [], doubtful: [] })
    expect(readFileSync(join(folder, 'tally.sqlite')).equals(before)).toBe(true)
  })

  it('names what is lost at the end too, as far as the file beside the tally tells', async () => {
    const folder = await filled(600)
    const path = join(folder, 'tally.sqlite')
    truncateSync(path, 10 * 4096)
    const { entries, lost, answered, problems } = mendStore(folder, STAMP)
    expect(problems).toEqual(['the file is damaged'])
    expect(entries).toBeGreaterThan(10)
    expect(lost.at(-1)?.[1]).toBe(600)
    expect(lost.reduce((sum, [first, last]) => sum + last - first + 1, entries)).toBe(600)
    expect(answered).toBe(600)
    expect(mendStore(folder, STAMP), 'of the new numbers').toMatchObject({ problems: [], entries })

    const other = await filled(600)
    truncateSync(join(other, 'tally.sqlite'), 10 * 4096)
    rmSync(join(other, 'tally.sqlite.last'))
    expect(mendStore(other, STAMP).answered).toBeUndefined()
  })

  it('where nothing can be read points at backups', async () => {
    const folder = await filled(3)
    const path = join(folder, 'tally.sqlite')
    writeFileSync(path, Buffer.alloc(20_000, 0x55))
    expect(() => mendStore(folder, STAMP)).toThrow(
      /not one entry could be read; .* name their folder with --backups DIR/,
    )
  })

  it('with any one page spoiled keeps the damaged copy, loses no entry of another page and says what is lost', async () => {
    const source = join(await filled(1_000), 'tally.sqlite')
    const pages = statSync(source).size / 4096
    let lossless = 0
    let unborn = 0
    for (let page = 0; page < pages; page += page < 3 ? 1 : 5) {
      const folder = tempFolder()
      const path = join(folder, 'tally.sqlite')
      copyFileSync(source, path)
      spoil(path, page * 4096, Buffer.alloc(4096, 0x55))
      const spoiled = readFileSync(path)
      const { problems, entries, lost, savedAs } = mendStore(folder, STAMP)
      expect(problems.length).toBeGreaterThan(0)
      expect(readFileSync(savedAs!).equals(spoiled)).toBe(true)
      const gone = lost.reduce((sum, [first, last]) => sum + last - first + 1, 0)
      expect(gone).toBeLessThan(60)
      if (gone === 0) lossless++
      const store = TallyStore.open(folder, 'read', listing)
      const found = [...store.entries()]
      expect(found).toHaveLength(entries)
      expect(entries + gone).toBeGreaterThan(940)
      for (const entry of found) expect(entry.note).toBe(`note ${entry.id.slice(1)}`)
      if (store.replay('').kept.born === '') unborn++
      else expect(store.replay('').kept.born).toBe('2026-05-01T00:00:00.000Z')
      expect(mendStore(folder, STAMP).problems).toEqual([])
    }
    expect(lossless).toBeGreaterThan(0)
    expect(unborn).toBeLessThanOrEqual(2)
  })

  it('refuses a file in which there is no entry, and leaves it as it is', () => {
    const folder = tempFolder()
    writeFileSync(join(folder, 'tally.sqlite'), 'W07 opened\n'.repeat(900))
    expect(() => mendStore(folder, STAMP)).toThrow(/not one entry could be read; .*nothing was changed/)
    expect(readFileSync(join(folder, 'tally.sqlite'), 'utf8')).toBe('W07 opened\n'.repeat(900))
  })

  it('reads long entries, those that stand only in the log, and none that was not committed', async () => {
    const folder = tempFolder()
    const path = join(folder, 'tally.sqlite')
    const store = TallyStore.open(folder, 'write', listing)
    const long = Array.from({ length: 30 }, (_, n) => opened(n, { note: `${n} `.repeat(n * 400) }))
    for (const entry of long) store.commitBatch({ entries: [entry], kept: { born: STAMP, ids: [] } })
    expect(salvage(path).map(({ entry }) => entry)).toEqual(long)
    await store.close()
    expect(salvage(path).map(({ entry }) => entry)).toEqual(long)
  })

  it('takes out an entry that is no longer readable', async () => {
    const folder = await filled(10)
    openSqlite(join(folder, 'tally.sqlite'), 'write').exec(`update entries set body = '{"what":' where seq = 4`)
    expect(() => [...TallyStore.open(folder, 'read', listing).entries()]).toThrow(
      /entry 4 cannot be read: run `sashtally mend`/,
    )
    const { problems, lost, entries, doubtful } = mendStore(folder, STAMP)
    expect(problems).toEqual(['entry 4 is not what was kept, or cannot be read'])
    // Nobody can tell whether 5 is what came after 4.
    expect([lost, entries, doubtful]).toEqual([[[4, 4]], 9, [5]])
  })

  it('is refused while a keeper is at work, where there is no tally, and on a newer store', async () => {
    const folder = await filled(1)
    const lock = takeLock(folder, STAMP)
    expect(() => mendStore(folder, STAMP)).toThrow(/a keeper is at work here \(process \d+ since 2026/)
    lock.release()
    expect(mendStore(folder, STAMP).problems).toEqual([])
    expect(() => mendStore(tempFolder(), STAMP)).toThrow(/no tally here yet/)
    openSqlite(join(folder, 'tally.sqlite'), 'write').exec('pragma user_version = 9')
    const size = statSync(join(folder, 'tally.sqlite')).size
    expect(() => mendStore(folder, STAMP)).toThrow(/install the newer sashtally/)
    expect(statSync(join(folder, 'tally.sqlite')).size).toBe(size)
    expect(existsSync(join(folder, 'tally.sqlite.mended'))).toBe(false)
  })
})
