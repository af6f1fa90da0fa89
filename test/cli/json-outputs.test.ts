import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { seeded } from '../../src/budget/lives/draw.ts'
import { pastOf } from '../../src/cli/begin/demo-past.ts'
import { cli } from '../../src/cli/cli.ts'
import { COMMANDS } from '../../src/cli/commands.ts'
import { DESCRIBED, type Described } from '../../src/cli/json/described.ts'
import { outputSchema } from '../../src/cli/json/outputs.ts'
import { parseRegister } from '../../src/register/parse.ts'
import { misfits } from '../support/json-output.ts'
import { fakeWorld } from '../support/world.ts'

const NOW = Date.parse('2026-11-25T21:47:00.000Z')
const example = readFileSync(fileURLToPath(new URL('../../examples/ropewalk.yaml', import.meta.url)), 'utf8')

/** Not what a command prints with `--json`: its description holds. */
const LINES: Readonly<Partial<Record<Described, string>>> = { entry: 'tally file', log: '--log json' }

/** Those that talk to a contact: their tests look at what they print. */
const AT_THE_BENCH = ['prove', 'round']

let folder: string
const run = async (...argv: string[]) => {
  const world = fakeWorld({ cwd: folder, now: () => NOW })
  return { exit: await cli(argv, world), ...world.said }
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-json-'))
  const write = (name: string, text: string): void => writeFileSync(join(folder, name), text)
  write('house.yaml', example)
  write('changed.yaml', example.replace(/words: \{ opened: \w+/, 'words: { opened: ajar'))
  write('broken.yaml', example.replace('mark: W02', 'mark: W01'))
  const { entries } = pastOf(parseRegister(example).register!, seeded(3), NOW)
  const flashed = {
    id: 'f1',
    at: '2026-01-05T10:00:00.000Z',
    mark: 'W07',
    what: 'flashed',
    how: 'live',
    revision: 'deadbeef',
  }
  const benched = ['W01', 'W02', 'W03'].map((mark, n) => ({
    ...{ id: `p${n}`, at: `2026-01-0${n + 1}T10:00:00.000Z`, mark, what: 'proved', how: 'live', text: 'bench' },
    joinMilliseconds: 1_000 * (n + 1),
  }))
  write('tally.jsonl', [...benched, flashed, ...entries].map(entry => `${JSON.stringify(entry)}\n`).join(''))
  expect(await run('import', 'house.yaml', 'tally.jsonl', '--data', 'data')).toMatchObject({ exit: 0 })
  expect(await run('emit', 'firmware', 'house.yaml', '--out', 'firmware')).toMatchObject({ exit: 0 })
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const CASES: readonly (readonly [command: Described, exit: number, argv: string])[] = [
  ['check', 0, 'check house.yaml'],
  ['check', 1, 'check broken.yaml'],
  ['check', 0, 'check house.yaml --tally tally.jsonl --private firmware/private.h --against changed.yaml'],
  ['tally', 0, 'tally house.yaml --tally tally.jsonl'],
  ['tally', 0, 'tally house.yaml --data data'],
  ['tally', 0, 'tally house.yaml --data data --since 2026-05-01'],
  ['forecast', 0, 'forecast house.yaml'],
  ['forecast', 0, 'forecast house.yaml --data data --accept-days 60'],
  ['budget', 0, 'budget house.yaml --sender coin'],
  ['budget', 0, 'budget house.yaml --sender coin --calibrate 14'],
  ['budget', 0, 'budget house.yaml --sender coin --calibrate 14 --solve resistance --load cached-join'],
  ['budget', 0, 'budget house.yaml --sender coin --reservoir 47mF --place before-reed'],
  ['budget', 0, 'budget house.yaml --sender coin --reservoir 47mF --place after-reed'],
  ['budget', 0, 'budget house.yaml --sender coin --cell CR123A'],
  ['suit', 0, 'suit house.yaml'],
  ['suit', 0, 'suit house.yaml --changes 0.1'],
  ['parts', 0, 'parts house.yaml --data data'],
  ['assign', 0, 'assign house.yaml --data data --cells'],
  ['assign', 0, 'assign house.yaml'],
]

test.each(CASES)('%s prints what its schema says (exit %i): %s', async (command, exit, argv) => {
  const said = await run(...argv.split(' '), '--json')
  expect(said).toMatchObject({ exit })
  expect(misfits(command, said.stdout)).toEqual([])
})

test('every command with --json has a schema, and is looked at', () => {
  const withJson = COMMANDS.filter(({ options }) => 'json' in options).map(({ name }) => name)
  expect(DESCRIBED.filter(name => !(name in LINES))).toEqual(withJson.sort())
  expect([...new Set(CASES.map(([command]) => command)), ...AT_THE_BENCH].sort()).toEqual(withJson)
})

describe('emit schema --of', () => {
  test.each(DESCRIBED)('%s makes a JSON Schema that says what it is of', async name => {
    const { exit, stdout } = await run('emit', 'schema', '--of', name)
    expect(exit).toBe(0)
    expect(JSON.parse(stdout)).toEqual(outputSchema(name))
    expect(JSON.parse(stdout)).toMatchObject({ $schema: 'https://json-schema.org/draft/2020-12/schema' })
    expect(JSON.parse(stdout).description).toContain(LINES[name] ?? `${name} --json`)
  })

  test('entry fits what export writes', async () => {
    const { exit, stdout } = await run('export', 'house.yaml', '--data', 'data')
    expect(exit).toBe(0)
    const lines = stdout.trim().split('\n')
    expect(lines.length).toBeGreaterThan(100)
    expect(lines.slice(0, 300).flatMap(line => misfits('entry', line))).toEqual([])
  })

  test('a field that no schema names, or of another kind, does not fit', async () => {
    const parts = JSON.parse((await run('parts', 'house.yaml', '--json')).stdout)
    expect(misfits('parts', JSON.stringify({ ...parts, more: 1 }))).toHaveLength(1)
    expect(misfits('parts', JSON.stringify({ ...parts, confidence: 'high' }))).toHaveLength(1)
    expect(misfits('parts', JSON.stringify({ ...parts, parts: undefined }))).toHaveLength(1)
  })
})
