import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { policyOf } from '../../src/house/policy.ts'
import { ledgerRules, openLedger } from '../../src/keeper/store/rules.ts'
import { TallyStore } from '../../src/keeper/store/store.ts'
import { StoredEntries } from '../../src/keeper/store/stored-entries.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { testWorld } from './test-world.ts'

const HOUSE = `house: Ropewalk Studios
timezone: Europe/Lisbon
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }
openings:
  - { mark: W01, name: Dye room, sender: coin, was: [W1] }
`
const opened = (id: string, mark: string): Entry => ({
  id,
  at: '2026-11-20T09:00:00.000Z',
  mark,
  what: 'opened',
  how: 'live',
})

let folder: string
const write = (...marks: string[]) =>
  writeFile(
    join(folder, 'tally.jsonl'),
    marks.map((mark, index) => `${JSON.stringify(opened(`e${index}`, mark))}\n`).join(''),
  )
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-history-'))
  await writeFile(join(folder, 'house.yaml'), HOUSE)
})
afterAll(() => rm(folder, { recursive: true, force: true }))

test.each([
  [['tally', 'house.yaml']],
  [['tally', 'house.yaml', '--since', '2026-11-01']],
  [['forecast', 'house.yaml']],
  [['check', 'house.yaml']],
  [['assign', 'house.yaml']],
  [['parts', 'house.yaml']],
  [['say', 'house.yaml', 'W01', 'seen-closed']],
])('%s says once which marks of a tally no register knows', async argv => {
  await write('W01', 'W1', 'W07', 'W09', 'W07')
  const world = testWorld({ cwd: folder })
  expect(await cli([...argv, '--tally', 'tally.jsonl'], world)).toBe(0)
  expect(world.err().match(/no opening of the register has/g)).toHaveLength(1)
  expect(world.err()).toContain(
    'tally.jsonl: no opening of the register has the marks W07 (2), W09 (1): 3 entries count for nothing (was: [...]',
  )
})

/** A season of a window with a cell of its own, its bench and its walks. */
function season(): Entry[] {
  const at = (day: number, second = 0) => new Date(Date.UTC(2026, 8, 1 + day, 9, 0, second)).toISOString()
  const entries: Entry[] = [
    { id: 'f', at: at(0), mark: 'W01', what: 'flashed', how: 'live', revision: '00000000' },
    { id: 'p', at: at(0, 5), mark: 'W01', what: 'proved', how: 'live', text: 'bench', joinMilliseconds: 3900 },
    { id: 'c', at: at(1), mark: 'W1', what: 'cell-fitted', how: 'live', cell: { type: 'CR2032' } },
  ]
  for (let day = 2; day < 80; day += 4) {
    entries.push({ ...opened(`o${day}`, 'W01'), at: at(day) })
    entries.push({ ...opened(`r${day}`, 'W01'), at: at(day, 8), what: 'rest', linkLiveSeconds: 3600 })
  }
  return [...entries, { ...opened('x', 'W01'), at: at(81), what: 'odd', text: 'auf' }]
}

describe('a file and the folder that it was taken into', () => {
  const entries = season()
  beforeAll(async () => {
    await writeFile(join(folder, 'season.jsonl'), entries.map(entry => `${JSON.stringify(entry)}\n`).join(''))
    expect(await cli(['import', 'house.yaml', 'season.jsonl', '--data', 'taken'], testWorld({ cwd: folder }))).toBe(0)
  })
  const outOf = async (...argv: string[]) => {
    const world = testWorld({ cwd: folder })
    expect(await cli(argv, world)).toBe(0)
    return world.out()
  }

  test.each([
    ['forecast', '--json'],
    ['assign', '--cells', '--json'],
    ['parts', '--json'],
    ['check', '--json'],
    ['tally', '--since', '2026-11-01', '--json'],
  ])('say the same: %s', async (command, ...options) => {
    const argv = [command, 'house.yaml', ...options]
    const [file, data] = [await outOf(...argv, '--tally', 'season.jsonl'), await outOf(...argv, '--data', 'taken')]
    expect(file).toBe(data)
    // Without a tally another answer would be given: the entries were read.
    if (command !== 'tally') expect(file).not.toBe(await outOf(...argv))
  })
  test('say the same readings', async () => {
    const readings = async (...at: string[]) => JSON.parse(await outOf('tally', 'house.yaml', '--json', ...at)).readings
    const found = await readings('--data', 'taken')
    expect(found).toEqual(await readings('--tally', 'season.jsonl'))
    expect(found).toMatchObject([{ mark: 'W01', openings: 20, sends: 20, doubts: expect.arrayContaining(['reflash']) }])
  })
  test('export gives the entries back', async () => {
    const lines = (await outOf('export', 'house.yaml', '--data', 'taken')).trimEnd().split('\n')
    expect(lines.map(line => JSON.parse(line))).toEqual(entries)
  })
  test('where the ledger is enough no entry is read again, elsewhere few', async () => {
    const matching = StoredEntries.prototype.matching
    let count = 0
    const read = vi.spyOn(StoredEntries.prototype, 'matching').mockImplementation(function* (
      this: StoredEntries,
      only,
    ) {
      for (const entry of matching.call(this, only)) {
        count++
        yield entry
      }
    })
    const countOf = async (...argv: string[]): Promise<number> => {
      count = 0
      await outOf(...argv, '--data', 'taken')
      return count
    }
    try {
      expect(await countOf('tally', 'house.yaml')).toBe(0)
      expect(await countOf('forecast', 'house.yaml')).toBe(0)
      // The one proof of the bench, and the one flashing.
      expect(await countOf('parts', 'house.yaml')).toBe(1)
      expect(await countOf('assign', 'house.yaml')).toBe(1)
      expect(await countOf('check', 'house.yaml')).toBe(2)
      expect(await countOf('export', 'house.yaml')).toBe(entries.length)
    } finally {
      read.mockRestore()
    }
  })
  test('what was taken back did not open', async () => {
    const undone = ['o78', 'r78'].map(undoes => ({
      ...opened(`undone-${undoes}`, 'W01'),
      at: '2026-11-23T09:00:00.000Z',
      what: 'undone',
      undoes,
    }))
    await writeFile(
      join(folder, 'undone.jsonl'),
      [...entries, ...undone].map(entry => `${JSON.stringify(entry)}\n`).join(''),
    )
    const since = async (file: string) =>
      JSON.parse(await outOf('tally', 'house.yaml', '--tally', file, '--since', '2026-11-01', '--json')).opened
    expect(await since('season.jsonl')).toMatchObject([{ mark: 'W01', openings: 5, last: entries.at(-3)!.at }])
    expect(await since('undone.jsonl')).toMatchObject([{ mark: 'W01', openings: 4, last: entries.at(-5)!.at }])
  })
})

test('a tally whose marks are all known is read without a word', async () => {
  await write('W01', 'W1')
  const world = testWorld({ cwd: folder })
  expect(await cli(['tally', 'house.yaml', '--tally', 'tally.jsonl'], world)).toBe(0)
  expect(world.err()).toBe('')
})

test('an import that begins before the keeper’s first start counts from its first entry', async () => {
  const data = join(folder, 'born')
  const policy = policyOf(parseRegister(HOUSE).register!)
  const born = '2026-11-22T00:00:00.000Z'
  const store = TallyStore.open(data, 'write', ledgerRules(policy))
  store.begin(born)
  openLedger(store, policy, born)
  await store.close()
  await write('W01', 'W1')
  const since = async (): Promise<string | undefined> => {
    const world = testWorld({ cwd: folder })
    expect(await cli(['tally', 'house.yaml', '--data', 'born', '--json'], world)).toBe(0)
    return (JSON.parse(world.out()) as { readings: { countedSince?: string }[] }).readings[0]?.countedSince
  }
  expect(await since()).toBe(born)
  expect(await cli(['import', 'house.yaml', 'tally.jsonl', '--data', 'born'], testWorld({ cwd: folder }))).toBe(0)
  expect(await since()).toBe('2026-11-20T09:00:00.000Z')
})
