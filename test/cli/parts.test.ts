import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
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

test('a bench where every module starts needs fewer spares', async () => {
  const proved = Array.from({ length: 60 }, (_, i) =>
    JSON.stringify({
      id: `b${i}`,
      at: '2026-11-01T10:00:00.000Z',
      mark: 'W01',
      what: 'proved',
      how: 'live',
      text: 'bench',
    }),
  )
  await writeFile(join(folder, 'tally.jsonl'), `${proved.join('\n')}\n`)
  const [before, after] = [await parts(), await parts('--tally', 'tally.jsonl')]
  expect(after.parts![0]!.buy).toBeLessThan(before.parts![0]!.buy)
  expect(after.parts![0]!.restsOn).toMatch(/0 of 60 at this bench/)
})

test('a confidence that is no chance is wrong use', async () => {
  expect((await parts('--confidence', '1')).exit).toBe(2)
  expect((await parts('--confidence', '0.9999')).exit).toBe(2)
  expect((await parts('--confidence', 'sure')).exit).toBe(2)
})
