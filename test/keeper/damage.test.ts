import { spawnSync } from 'node:child_process'
import {
  appendFileSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import { gunzipSync } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import { backedUpAt, backUp, fullestBackup, isBackupDue } from '../../src/keeper/repair/backup.ts'
import { mendStore } from '../../src/keeper/repair/mend.ts'
import { logDamage } from '../../src/keeper/store/log-check.ts'
import { ledgerRules } from '../../src/keeper/store/rules.ts'
import { openSqlite } from '../../src/keeper/store/sqlite.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { applyAll, type Ledger, startLedger } from '../../src/ledger/apply.ts'
import { listing, opened, tempFolder } from './folder.ts'

const STAMP = '2026-06-02T08:00:00.000Z'
const NOW = Date.parse(STAMP)
const open = (folder: string, mode: 'write' | 'read' = 'write') => TallyStore.open(folder, mode, listing)
const tally = (folder: string) => join(folder, 'tally.sqlite')
const ids = (folder: string) => [...open(folder, 'read').entries()].map(({ id }) => id)

async function filled(count: number, each = count): Promise<string> {
  const folder = tempFolder()
  const store = open(folder)
  for (let n = 0; n < count; n += each) {
    store.commitBatch({ entries: Array.from({ length: each }, (_, i) => opened(n + i)), kept: { born: '', ids: [] } })
  }
  await store.close()
  return folder
}

/** The folder of a keeper that was killed: its last transactions stand in the log only. */
async function killed(before: number, after: number): Promise<string> {
  const folder = await filled(before)
  const store = open(folder)
  for (let n = before; n < before + after; n++) store.commitBatch({ entries: [opened(n)] })
  const copy = tempFolder()
  for (const name of readdirSync(folder)) {
    if (!name.endsWith('-shm')) copyFileSync(join(folder, name), join(copy, name))
  }
  await store.close()
  return copy
}

const contents = (folder: string): Record<string, string> =>
  Object.fromEntries(readdirSync(folder).map(name => [name, readFileSync(join(folder, name)).toString('base64')]))

/** 0xff begins no character: RFC 3629, section 1. */
const spoilText = (folder: string): void => {
  openSqlite(tally(folder), 'write').exec(`update entries set body = cast(x'7bff7d' as text) where seq = 7`)
}

describe('a byte that is no UTF-8', () => {
  it.each(['entries', 'recount', 'mend'] as const)('does not end %s', async what => {
    const folder = await filled(50)
    spoilText(folder)
    const script = {
      entries: `try { [...TallyStore.open(${JSON.stringify(folder)}, 'read', rules).entries()] } catch (error) { console.log(error.message) }`,
      recount: `try { [...TallyStore.open(${JSON.stringify(folder)}, 'write', rules).recount(rules)] } catch (error) { console.log(error.message) }`,
      mend: `console.log(mendStore(${JSON.stringify(folder)}, '${STAMP}').problems.join())`,
    }[what]
    // In a process of its own: the native library ended it, which no test could catch.
    const ended = spawnSync(
      process.execPath,
      [
        '--input-type=module',
        '-e',
        `const rules = { format: 'x', start: () => 0, apply: (n, entries) => n + [...entries].length }\n${script}`,
      ],
      { encoding: 'utf8', env: { ...process.env, NODE_OPTIONS: `--import=${built()}` } },
    )
    expect([ended.status, ended.signal, ended.stderr]).toEqual([0, null, ''])
    expect(ended.stdout).toMatch(/entry 7 (cannot be read|is not what was kept)/)
  })

  /** The store as one file for a bare process, its names global. */
  function built(): string {
    const file = join(tempFolder(), 'store.mjs')
    const made = spawnSync(
      join(process.cwd(), 'node_modules/.bin/esbuild'),
      ['--bundle', '--platform=node', '--format=esm', '--external:libsql', `--outfile=${file}`],
      {
        input: `import { TallyStore } from './src/keeper/store/store.ts'\nimport { mendStore } from './src/keeper/repair/mend.ts'\nObject.assign(globalThis, { TallyStore, mendStore })`,
        encoding: 'utf8',
      },
    )
    expect(made.status, made.stderr).toBe(0)
    const bundle = readFileSync(file, 'utf8').replace(
      /from "libsql"/g,
      `from ${JSON.stringify(join(process.cwd(), 'node_modules/libsql/index.js'))}`,
    )
    writeFileSync(file, bundle)
    return file
  }
})

describe('a damaged log', () => {
  it('is told, and reading changes no file', async () => {
    const folder = await killed(200, 400)
    const log = readFileSync(`${tally(folder)}-wal`)
    const frames = Math.floor((log.length - 32) / 4120)
    const frame = 32 + Math.floor(frames / 2) * 4120
    log[frame + 1000]! ^= 1
    writeFileSync(`${tally(folder)}-wal`, log)
    const before = contents(folder)
    expect(() => open(folder, 'read')).toThrow(/frame \d+ of the log is damaged.*run `sashtally mend`/)
    expect(() => open(folder)).toThrow(/frame \d+ of the log is damaged/)
    expect(contents(folder)).toEqual(before)
  })

  it('loses no entry of another frame in mending, and the originals stay', async () => {
    const folder = await killed(200, 400)
    const log = readFileSync(`${tally(folder)}-wal`)
    const frames = Math.floor((log.length - 32) / 4120)
    log[32 + Math.floor(frames / 2) * 4120 + 1000]! ^= 1
    writeFileSync(`${tally(folder)}-wal`, log)
    const before = contents(folder)
    const { problems, entries, savedAs } = mendStore(folder, STAMP)
    expect(problems[0]).toMatch(/frame \d+ of the log is damaged/)
    expect(entries).toBe(600)
    expect(readFileSync(savedAs!).toString('base64')).toBe(before['tally.sqlite'])
    expect(readFileSync(`${savedAs}-wal`).toString('base64')).toBe(before['tally.sqlite-wal'])
    expect(ids(folder)).toHaveLength(600)
  })

  it('whose last transaction was never finished is none', async () => {
    const folder = await killed(10, 20)
    const log = `${tally(folder)}-wal`
    for (const bytes of [1, 100, 4120]) {
      truncateSync(log, statSync(log).size - bytes)
      expect(logDamage(tally(folder))).toBeUndefined()
    }
  })

  it('that a keeper left behind whole is read without a file being changed or made', async () => {
    const folder = await killed(10, 20)
    const before = contents(folder)
    expect(ids(folder)).toHaveLength(30)
    expect(contents(folder)).toEqual(before)
  })
})

describe('a flipped bit', () => {
  it('alters no entry unsaid, wherever it falls', async () => {
    const source = await filled(400, 40)
    const bytes = readFileSync(tally(source))
    const truth = JSON.stringify([...open(source, 'read').entries()])
    let said = 0
    for (let n = 0; n < 90; n++) {
      const folder = tempFolder()
      // Spread over the file by the golden ratio: the same places in every run.
      const bit = Math.floor(((n + 1) * 0.618_033_988_749 * bytes.length * 8) % (bytes.length * 8))
      const flipped = Buffer.from(bytes)
      flipped[bit >> 3]! ^= 1 << (bit & 7)
      writeFileSync(tally(folder), flipped)
      let found: string | undefined
      try {
        const store = open(folder, 'read')
        store.replay('')
        found = JSON.stringify([...store.entries()])
      } catch {
        said++
      }
      if (found === truth) continue
      // Read whole but altered, or refused: in both cases a look through the store names it.
      const { problems, doubtful, lost } = mendStore(folder, STAMP)
      expect(problems.length, `bit ${bit}`).toBeGreaterThan(0)
      const gone = lost.reduce((sum, [first, last]) => sum + last - first + 1, 0)
      const kept = new Map([...open(folder, 'read').entries()].map(entry => [entry.id, JSON.stringify(entry)]))
      const altered = (JSON.parse(truth) as { id: string }[]).filter(
        entry => kept.has(entry.id) && kept.get(entry.id) !== JSON.stringify(entry),
      )
      expect(altered.length, `bit ${bit}`).toBeLessThanOrEqual(doubtful.length)
      expect(kept.size + gone).toBeGreaterThanOrEqual(400 - 70)
    }
    expect(said).toBeGreaterThan(5)
  })

  it('in an old entry is named by a look through all, and at its place by mending', async () => {
    const folder = await filled(3_000, 100)
    openSqlite(tally(folder), 'write').exec(`update entries set mark = 'W08' where seq = 17`)
    const wrong = [...open(folder).check()].flatMap(slice => slice.wrong)
    expect(wrong).toEqual([17])
    const { problems, doubtful } = mendStore(folder, STAMP)
    expect([problems, doubtful]).toEqual([['entry 17 is not what was kept, or cannot be read'], [17]])
  })

  it('among the last entries stops a start', async () => {
    const folder = await filled(3_000, 100)
    openSqlite(tally(folder), 'write').exec(`update entries set at = at + 1 where seq = 2990`)
    expect(() => open(folder).replay('')).toThrow(/entry 2990 is not what was kept: run `sashtally mend`/)
  })
})

describe('a snapshot', () => {
  it.each([
    ['cut', `update snapshot set kept = substr(kept, 1, 20)`],
    ['altered', `update snapshot set kept = replace(kept, 'e1', 'e9')`],
    ['of another entry', `update snapshot set seq = seq - 1`],
    ['no UTF-8', `update snapshot set kept = cast(x'ff7b' as text)`],
  ])('that is %s is dropped, and the entries are counted', async (_, damage) => {
    const folder = tempFolder()
    const store = open(folder)
    const entries = Array.from({ length: 1_200 }, (_, n) => opened(n))
    store.commitBatch({ entries, kept: { born: '', ids: entries.map(({ id }) => id) } })
    await store.close()
    expect(open(folder, 'read').replay('').replayed).toBe(0)
    openSqlite(tally(folder), 'write').exec(damage)
    const { kept, replayed } = open(folder, 'read').replay('')
    expect(replayed).toBe(1_200)
    expect(kept.ids).toEqual(entries.map(({ id }) => id))
  })
})

describe('a file that is not the one that was opened', () => {
  it.each([
    ['the folder is removed', (folder: string) => rmSync(folder, { recursive: true })],
    [
      'the file is replaced',
      (folder: string) => {
        renameSync(tally(folder), `${tally(folder)}.old`)
        copyFileSync(`${tally(folder)}.old`, tally(folder))
      },
    ],
  ])('takes nothing: %s', async (_, happens) => {
    const folder = await filled(5)
    const store = open(folder)
    happens(folder)
    expect(() => store.commitBatch({ entries: [opened(9)] })).toThrow(/removed or replaced while the keeper ran/)
  })

  it('is not begun anew where it was emptied, or is gone', async () => {
    const emptied = await filled(5)
    truncateSync(tally(emptied), 0)
    for (const mode of ['write', 'read'] as const) expect(() => open(emptied, mode)).toThrow(/the file is empty/)
    const gone = await filled(5)
    rmSync(tally(gone))
    expect(() => open(gone)).toThrow(/the file is gone, and what lies beside it tells that there was one/)
    expect(existsSync(tally(gone))).toBe(false)
  })

  it('that is an older copy is told by what was answered for since', async () => {
    const folder = await filled(5)
    const older = readFileSync(tally(folder))
    const store = open(folder)
    store.commitBatch({ entries: [opened(5)] })
    await store.close()
    writeFileSync(tally(folder), older)
    expect(() => open(folder)).toThrow(/entry 6 was answered for, and this store ends with 5/)
    expect(mendStore(folder, STAMP)).toMatchObject({ entries: 5, problems: [expect.stringMatching(/entry 6/)] })
    expect(open(folder).length).toBe(5)
  })
})

it('files are the owner’s alone', async () => {
  const parent = tempFolder()
  const folder = join(parent, 'tally')
  const store = open(folder)
  store.commitBatch({ entries: [opened(1)] })
  expect(statSync(folder).mode & 0o777).toBe(0o700)
  for (const name of readdirSync(folder)) expect([name, statSync(join(folder, name)).mode & 0o077]).toEqual([name, 0])
  await store.close()
})

describe('a store of version 1, as release 0.1.0 made it', () => {
  const folderOf1 = (): string => {
    const folder = tempFolder()
    writeFileSync(tally(folder), gunzipSync(readFileSync(new URL('stores/version-1.sqlite.gz', import.meta.url))))
    return folder
  }

  it('is left as it is while another program reads it: a copy would not be whole', () => {
    const folder = folderOf1()
    const [sql, reader] = [openSqlite(tally(folder), 'write'), openSqlite(tally(folder), 'read')]
    reader.exec('begin')
    reader.prepare('select count(*) from entries').get([])
    sql.exec('create table later (word text)')
    sql.pragma('busy_timeout = 0')
    expect(() => new TallyStore(sql, ledgerRules({}), tally(folder))).toThrow(/another program is reading it: end that/)
    expect(existsSync(`${tally(folder)}.version-1`)).toBe(false)
    reader.close()
    sql.close()
  })

  it('is copied, brought up, and counts as before', async () => {
    const folder = folderOf1()
    const before = readFileSync(tally(folder))
    const look = openSqlite(tally(folder), 'read')
    const { kept: counted } = look.prepare('select kept from snapshot').get([]) as { kept: string }
    look.close()
    expect(() => open(folder, 'read')).toThrow(/an earlier sashtally wrote it.*start `sashtally keep`/)
    expect(readFileSync(tally(folder)).equals(before)).toBe(true)
    const store = TallyStore.open(folder, 'write', ledgerRules({}))
    expect(readFileSync(`${tally(folder)}.version-1`).equals(before)).toBe(true)
    expect(store.length).toBe(1_200)
    expect([...store.check()].flatMap(({ wrong }) => wrong)).toEqual([])
    const { kept, replayed } = store.replay('')
    expect(replayed).toBe(1_200)
    // What that release had counted itself up to its last snapshot: the first 1,000 entries.
    const then = JSON.parse(counted) as Ledger
    expect(then.count).toBe(1_000)
    const first = applyAll(startLedger({}, then.since), [...store.entries()].slice(0, 1_000))
    expect(first.marks.W07?.fold).toMatchObject({
      openings: then.marks.W07?.fold.openings,
      sends: then.marks.W07?.fold.sends,
    })
    expect(kept.marks.W07?.fold.openings).toBeGreaterThan(first.marks.W07!.fold.openings)
    expect(kept.since).toBe('2026-06-01T00:00:00.000Z')
    await store.close()
    expect(mendStore(folder, STAMP)).toMatchObject({ problems: [], entries: 1_200 })
  })

  it('that is damaged is mended', () => {
    const folder = folderOf1()
    spoilText(folder)
    expect(mendStore(folder, STAMP).entries).toBe(1_199)
  })
})

describe('backups', () => {
  it('are made once a day, read back, and as many stay as were asked for', async () => {
    const folder = await filled(20)
    const backups = join(tempFolder(), 'backups')
    const store = open(folder)
    for (let day = 0; day < 5; day++) {
      expect(await backUp(store, backups, 3, NOW + day * 86_400_000)).toBe(true)
      expect(await backUp(store, backups, 3, NOW + day * 86_400_000 + 3_600_000)).toBe(false)
      store.commitBatch({ entries: [opened(20 + day)] })
    }
    expect(readdirSync(backups)).toEqual([
      'tally-2026-06-04.sqlite',
      'tally-2026-06-05.sqlite',
      'tally-2026-06-06.sqlite',
    ])
    expect(fullestBackup(backups)?.entries).toHaveLength(24)
  })

  it('are for their owner alone', async () => {
    const backups = join(tempFolder(), 'backups')
    await backUp(open(await filled(3)), backups, 3, NOW)
    expect(statSync(backups).mode & 0o777).toBe(0o700)
    expect(statSync(join(backups, 'tally-2026-06-02.sqlite')).mode & 0o777).toBe(0o600)
  })

  it('one with a later date, of a day on which the clock was wrong, is the first to go and not the one to come back', async () => {
    const folder = await filled(20)
    const backups = join(tempFolder(), 'backups')
    const store = open(folder)
    await backUp(store, backups, 2, Date.UTC(2099, 0, 1))
    expect([backedUpAt(backups, NOW), isBackupDue(backups, NOW)]).toEqual([undefined, true])
    store.commitBatch({ entries: [opened(20)] })
    await backUp(store, backups, 2, NOW)
    expect(isBackupDue(backups, NOW)).toBe(false)
    expect(fullestBackup(backups)?.entries).toHaveLength(21)
    await backUp(store, backups, 2, NOW + 86_400_000)
    expect(readdirSync(backups)).toEqual(['tally-2026-06-02.sqlite', 'tally-2026-06-03.sqlite'])
  })

  it('a copy that is not what was kept is none, and the oldest stays', async () => {
    const folder = await filled(20)
    const backups = join(tempFolder(), 'backups')
    const store = open(folder)
    expect(await backUp(store, backups, 1, NOW)).toBe(true)
    openSqlite(tally(folder), 'write').exec(`update entries set mark = 'W08' where seq = 7`)
    await expect(backUp(store, backups, 1, NOW + 86_400_000)).rejects.toThrow(/entry 7 is not what was kept/)
    expect(readdirSync(backups)).toEqual(['tally-2026-06-02.sqlite'])
  })

  it('and what can be read of a damaged store give the whole tally back', async () => {
    const folder = await filled(2_000, 100)
    const backups = join(tempFolder(), 'backups')
    const store = open(folder)
    await backUp(store, backups, 14, NOW)
    for (let n = 2_000; n < 2_100; n++) store.commitBatch({ entries: [opened(n)] })
    await store.close()
    const bytes = readFileSync(tally(folder))
    // The first leaves of the table of entries, all of which the backup has.
    bytes.fill(0x55, 4096 * 8, 4096 * 12)
    writeFileSync(tally(folder), bytes)
    expect(mendStore(folder, STAMP, backups)).toMatchObject({
      entries: 2_100,
      lost: [],
      doubtful: [],
      backup: { entries: 2_000 },
    })
    expect(ids(folder)).toEqual(Array.from({ length: 2_100 }, (_, n) => `e${n}`))
  })

  it('alone begin a store on a new machine', async () => {
    const folder = await filled(30)
    const backups = join(tempFolder(), 'backups')
    await backUp(open(folder), backups, 14, NOW)
    const fresh = join(tempFolder(), 'new')
    mkdirSync(fresh)
    expect(mendStore(fresh, STAMP, backups)).toMatchObject({ entries: 30, lost: [] })
    expect(ids(fresh)).toHaveLength(30)
    appendFileSync(join(backups, 'tally-2026-06-02.sqlite'), 'x')
    expect(() => mendStore(join(tempFolder()), STAMP, tempFolder())).toThrow(/holds no backup that is whole/)
  })
})
