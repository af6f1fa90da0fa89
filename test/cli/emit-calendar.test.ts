import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import ICAL from 'ical.js'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { appendTallyFile } from '../../src/cli/store/tally-file.ts'
import type { Entry } from '../../src/protocol/entry.ts'
import { testWorld } from './test-world.ts'

const REGISTER = `house: Ropewalk Studios
timezone: Pacific/Auckland
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
openingsPerYear: 60
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, load: cold-join }
  yard: { reports: both, power: mains, words: { opened: ajar, closed: shut, gone: lost } }
openings:
  - { mark: W01, name: 'Dye room, south', sender: coin }
  - { mark: W02, name: Press room, sender: coin }
  - { mark: W03, name: Attic studio, sender: coin, cellFitted: 2025-01-01 }
  - { mark: D01, name: Yard door, sender: yard }
`
const DAY = 86_400_000
const NOW = Date.parse('2026-11-25T21:47:00.000Z')
const entry = (mark: string, daysAgo: number, what: Entry['what'], part: Partial<Entry> = {}): Entry => {
  const at = new Date(NOW - daysAgo * DAY).toISOString()
  return { id: `${mark}-${what}-${at}`, at, mark, what, how: 'live', ...part }
}
/** A cell fitted, so many openings a day apart, and then a failed test where it died. */
const lived = (mark: string, openings: number, died = false): Entry[] => [
  entry(mark, openings + 1, 'cell-fitted', { cell: { type: 'CR2032' } }),
  ...Array.from({ length: openings }, (_, i) => entry(mark, openings - i, 'opened')),
  ...(died ? [entry(mark, 0.5, 'failed')] : []),
]

let folder: string
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-calendar-'))
  await writeFile(join(folder, 'house.yaml'), REGISTER)
})
afterEach(() => rm(folder, { recursive: true, force: true }))
async function run(...argv: string[]) {
  const world = testWorld({ cwd: folder, now: NOW })
  const exit = await cli(['emit', 'calendar', 'house.yaml', ...argv], world)
  return { exit, out: world.out(), err: world.err() }
}
const events = (text: string) =>
  new ICAL.Component(ICAL.parse(text)).getAllSubcomponents('vevent').map(each => new ICAL.Event(each))

test('cells of which something is known have their day, a spent one today in the house’s own time zone', async () => {
  await appendTallyFile(
    't.jsonl',
    [...lived('W01', 6), ...lived('W02', 17, true)],
    testWorld({ cwd: folder, now: NOW }),
  )
  const { exit, out, err } = await run('--tally', 't.jsonl')
  expect([exit, err]).toEqual([0, ''])
  const found = events(out)
  expect(found.map(({ summary }) => summary)).toEqual([
    'Change the cell of W02 Press room (CR2032)',
    'Change the cell of W01 Dye room, south (CR2032)',
  ])
  // It is the 26th in Auckland, 13 hours before UTC in November.
  expect(found[0]!.startDate.toString()).toBe('2026-11-26')
  expect(found[1]!.startDate.toString() >= '2026-11-26').toBe(true)
  // When the tally was last added to: half a day ago.
  expect(found[0]!.component.getFirstPropertyValue('dtstamp')?.toString()).toBe('2026-11-25T09:47:00Z')
})

test('a tally in which nothing was heard yet has no event, and the same tally makes the same file', async () => {
  await appendTallyFile('t.jsonl', [], testWorld({ cwd: folder, now: NOW }))
  await writeFile(join(folder, 't.jsonl'), '')
  expect((await run('--tally', 't.jsonl', '--out', 'cells.ics')).exit).toBe(0)
  const text = await readFile(join(folder, 'cells.ics'), 'utf8')
  expect(events(text)).toEqual([])
  expect((await run('--tally', 't.jsonl', '--out', 'cells.ics', '--check')).exit).toBe(0)
  await appendTallyFile('t.jsonl', lived('W01', 6), testWorld({ cwd: folder, now: NOW }))
  expect((await run('--tally', 't.jsonl', '--out', 'cells.ics', '--check')).exit).toBe(1)
  expect(await readFile(join(folder, 'cells.ics'), 'utf8')).toBe(text)
})

test('it needs a tally, and writes over none', async () => {
  expect(await run()).toMatchObject({ exit: 2, err: expect.stringMatching(/give --tally or --data/) })
  await writeFile(join(folder, 't.jsonl'), '')
  expect((await run('--tally', 't.jsonl', '--out', 't.jsonl')).exit).toBe(2)
})
