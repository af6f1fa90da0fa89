import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import type { SuitJson } from '../../src/cli/json/cells.ts'
import { DAY, iso } from '../../src/text/time.ts'
import { fakeWorld } from '../support/world.ts'

const now = Date.parse('2026-11-25T12:00:00Z')
let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-suit-'))
  const house = (mark: string, more: string) => `  - { mark: ${mark}, name: ${mark}, sender: coin${more} }\n`
  writeFileSync(
    join(folder, 'house.yaml'),
    `house: Ropewalk Studios\ntimezone: Europe/Lisbon\ntally: ropewalk/tally\nsenders:\n  coin: { reports: openings, cell: CR2032, words: { opened: opened, rest: asleep } }\nopenings:\n${house('W01', '')}${house('W02', ', openingsPerYear: 5')}${house('W03', '')}`,
  )
  // Each of W01 and W02 is opened every second day for a year.
  const words = Array.from({ length: 183 }, (_, index) => iso(now - (366 - 2 * index) * DAY)).flatMap((at, index) =>
    ['W01', 'W02'].map(mark => ({ id: `${mark}-${index}`, at, mark, what: 'opened', how: 'live' })),
  )
  writeFileSync(join(folder, 't.jsonl'), words.map(word => `${JSON.stringify(word)}\n`).join(''))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const run = async (...argv: string[]) => {
  const world = fakeWorld({ cwd: folder, now: () => now })
  expect(await cli(['suit', 'house.yaml', ...argv], world)).toBe(0)
  return world.said.stdout
}
const rates = async (...argv: string[]) =>
  (JSON.parse(await run('--json', ...argv)) as SuitJson).openings.map(({ openingsPerYear, isCounted, verdict }) => ({
    rate: openingsPerYear,
    isCounted,
    verdict,
  }))

test('without a tally the guesses of the register hold', async () => {
  expect((await rates()).map(({ rate, verdict }) => [rate, verdict])).toEqual([
    [undefined, 'not known'],
    [5, 'suits'],
    [undefined, 'not known'],
  ])
})
test('what a tally has counted takes the place of what nobody knew, and moves a guess', async () => {
  const [unknown, guessed, never] = await rates('--tally', 't.jsonl')
  // 183 in a year, counted by hand; a guess of 5 a year weighs as two openings in 0.4 years: 185 in 1.4.
  expect(unknown!.rate).toBeGreaterThan(175)
  expect(unknown!.rate).toBeLessThan(190)
  expect(guessed!.rate).toBeGreaterThan(125)
  expect(guessed!.rate).toBeLessThan(140)
  expect([unknown!.isCounted, unknown!.verdict, guessed!.verdict]).toEqual([true, 'does not suit', 'does not suit'])
  expect(never).toEqual({ rate: undefined, isCounted: undefined, verdict: 'not known' })
})
test('where nobody knows how often, it says where to write a guess, and how', async () => {
  const said = await run()
  expect(said).toMatch(/write a guess into house\.yaml/)
  const line = /^ {2}- (\{ mark: W01, )\.\.\., (openingsPerYear: \d+ \})$/m.exec(said)!
  writeFileSync(
    join(folder, 'guessed.yaml'),
    `${readFileSync(join(folder, 'house.yaml'), 'utf8').replace(
      /\{ mark: W01, (.*) \}/,
      (_, more: string) => `${line[1]}${more}, ${line[2]}`,
    )}${/^ {2}(openingsPerYear: \d+)$/m.exec(said)![1]}\n`,
  )
  const world = fakeWorld({ cwd: folder, now: () => now })
  expect(await cli(['suit', 'guessed.yaml', '--json'], world)).toBe(0)
  const { openings } = JSON.parse(world.said.stdout) as SuitJson
  expect(openings.map(({ openingsPerYear }) => openingsPerYear)).toEqual([120, 5, 120])
  const known = fakeWorld({ cwd: folder, now: () => now })
  await cli(['suit', 'guessed.yaml'], known)
  expect(known.said.stdout).not.toMatch(/write a guess/)
})
test('the last line says what to do next', async () => {
  expect((await run('--tally', 't.jsonl')).trimEnd().split('\n').at(-1)).toMatch(/^Next: sashtally parts FILE/)
})
