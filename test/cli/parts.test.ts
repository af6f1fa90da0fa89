import { readFileSync } from 'node:fs'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { fakeWorld } from '../support/world.ts'

const FILE = join(import.meta.dirname, '../../examples/ropewalk.yaml')
let folder: string
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sashtally-parts-'))
})
afterAll(() => rm(folder, { recursive: true, force: true }))

async function parts(...more: string[]) {
  const world = fakeWorld({ cwd: folder })
  const exit = await cli(['parts', FILE, '--json', ...more], world)
  return {
    exit,
    ...(JSON.parse(world.said.stdout || '{}') as {
      parts?: { part: string; need: number; buy: number; restsOn: string }[]
      sum?: number
    }),
  }
}

test('a part for every opening, cells for a year on top, and the price of it all', async () => {
  const { exit, parts: list, sum } = await parts()
  expect(exit).toBe(0)
  expect(list!.map(({ part, need }) => [part, need])).toEqual([
    ['module', 26],
    ['CR2032', 21],
    ['CR2450', 3],
    ['reed', 26],
    ['magnet', 26],
    ['resistor', 26],
  ])
  expect(list!.every(({ need, buy }) => buy >= need)).toBe(true)
  expect(sum).toBeGreaterThan(0)
})

const bench = (i: number, mark: string, what: string): string =>
  JSON.stringify({
    id: `b${i}`,
    at: new Date(Date.UTC(2026, 10, 1, 10, i)).toISOString(),
    mark,
    what,
    how: 'live',
    ...(what === 'module-fitted' ? {} : { text: 'bench' }),
  })
const MARKS = [...parseRegister(readFileSync(FILE, 'utf8')).register!.openings].map(({ mark }) => mark)

test('a bench where every module starts needs fewer spares', async () => {
  await writeFile(join(folder, 'tally.jsonl'), MARKS.map((mark, i) => `${bench(i, mark, 'proved')}\n`).join(''))
  const [before, after] = [await parts(), await parts('--tally', 'tally.jsonl')]
  expect(after.parts![0]!.buy).toBeLessThan(before.parts![0]!.buy)
  expect(after.parts![0]!.restsOn).toMatch(/0 of 26 at this bench/)
})

test('modules are counted, not tests: ten tests of one module are one, and its last result stands', async () => {
  const tests = ['failed', 'failed', 'proved', 'proved', 'proved'].map((what, i) => bench(i, 'W01', what))
  const swapped = ['failed', 'module-fitted', 'failed', 'module-fitted', 'proved'].map((what, i) =>
    bench(10 + i, 'W02', what),
  )
  await writeFile(join(folder, 'tally.jsonl'), `${[...tests, ...swapped].join('\n')}\n`)
  expect((await parts('--tally', 'tally.jsonl')).parts![0]!.restsOn).toMatch(/2 of 4 at this bench/)
})

const house = (openings: string): string => `house: Ropewalk Studios
timezone: Europe/Lisbon
broker: { mqtt: 'mqtt://broker.lan:1883' }
tally: ropewalk/tally
senders:
  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep }, load: cold-join }
  both: { reports: both, cell: CR2032, words: { opened: opened, closed: shut, gone: asleep }, load: cold-join }
  hard: { reports: openings, cell: CR2450, words: { opened: opened, rest: asleep }, load: cold-join, resetVolts: 3.1 }
openings:
${openings}
`

/** The row of a cell in a house of these openings, and all that is told. */
async function cellsOf(part: string, openings: string) {
  await writeFile(join(folder, 'house.yaml'), house(openings))
  const told = fakeWorld({ cwd: folder })
  expect(await cli(['parts', 'house.yaml'], told)).toBe(0)
  const json = fakeWorld({ cwd: folder })
  expect(await cli(['parts', 'house.yaml', '--json'], json)).toBe(0)
  const rows: { part: string; need: number; buy: number; restsOn: string }[] = JSON.parse(json.said.stdout).parts
  return { ...rows.find(row => row.part === part)!, text: told.said.stdout }
}

test('a contact that reports both edges from its cell needs about twice the cells, each row on top of one each', async () => {
  const rows = (sender: string): string =>
    Array.from(
      { length: 8 },
      (_, i) => `  - { mark: W${i}, name: n${i}, sender: ${sender}, openingsPerYear: 200 }`,
    ).join('\n')
  const [coin, both] = [await cellsOf('CR2032', rows('coin')), await cellsOf('CR2032', rows('both'))]
  expect(coin.need).toBe(8)
  // 200 openings of 20 a cell in the middle are 80 cells in all; more for the chance of 95 %.
  expect(coin.buy).toBeGreaterThan(8 + 80)
  expect(coin.buy).toBeLessThan(8 + 2.2 * 80)
  expect((both.buy - 8) / (coin.buy - 8)).toBeGreaterThan(1.7)
  expect((both.buy - 8) / (coin.buy - 8)).toBeLessThan(2.2)
  expect(coin.text).toContain('swallowed, it kills')
})

test('says which openings the cells of a year leave out', async () => {
  const mixed = await cellsOf(
    'CR2032',
    '  - { mark: W1, name: a, sender: coin, openingsPerYear: 60 }\n  - { mark: W2, name: b, sender: coin }',
  )
  expect(mixed.restsOn).toMatch(/^one each, and \d+ for .*no change of a cell is counted.*for W2$/)
  const never = await cellsOf('CR2450', '  - { mark: W3, name: c, sender: hard, openingsPerYear: 60 }')
  expect(never).toMatchObject({ need: 1, buy: 1 })
  expect(never.restsOn).toMatch(/^one each; how many fail in a year is not known.*for W3$/)
})

test('a confidence that is no chance is wrong use', async () => {
  expect((await parts('--confidence', '1')).exit).toBe(2)
  expect((await parts('--confidence', '0.9999')).exit).toBe(2)
  expect((await parts('--confidence', 'sure')).exit).toBe(2)
})
