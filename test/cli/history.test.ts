import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import type { Entry } from '../../src/protocol/entry.ts'
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

test('a tally whose marks are all known is read without a word', async () => {
  await write('W01', 'W1')
  const world = testWorld({ cwd: folder })
  expect(await cli(['tally', 'house.yaml', '--tally', 'tally.jsonl'], world)).toBe(0)
  expect(world.err()).toBe('')
})
