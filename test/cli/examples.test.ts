import { cpSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { COMMANDS } from '../../src/cli/commands.ts'
import { fakeWorld } from '../support/world.ts'
import { wordsOf } from './words-of.ts'

/** Commands whose examples talk to the person's own broker, or to a person: each has a test of its own that does so. */
const ELSEWHERE = ['demo', 'init', 'overhear', 'prove', 'rehearse', 'round', 'keep', 'serve', 'say']

let folder: string
const run = async (line: string) => {
  const argv = wordsOf(line.replace(/ > .*$/, ''))
    .slice(1)
    .map(word => word.replace(/^\/var\/lib\/sashtally$/, join(folder, 'data')))
  const world = fakeWorld({ cwd: folder })
  return { exit: await cli(argv, world), ...world.said }
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-examples-'))
  const examples = fileURLToPath(new URL('../../examples', import.meta.url))
  cpSync(examples, join(folder, 'examples'), { recursive: true })
  cpSync(join(examples, 'bellframe.hub.yaml'), join(folder, 'hub.yaml'))
  const said = await run('sashtally say examples/ropewalk.yaml W07 cell-fitted --tally tally.jsonl')
  expect(said).toMatchObject({ exit: 0 })
  const kept = await run('sashtally import examples/ropewalk.yaml tally.jsonl --data /var/lib/sashtally')
  expect(kept).toMatchObject({ exit: 0 })
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Without a folder it asks the keeper over the broker (`keep.test.ts`). */
const OF_THE_KEEPER = 'sashtally tally examples/ropewalk.yaml'
const lines = COMMANDS.filter(({ name }) => !ELSEWHERE.includes(name))
  .flatMap(({ examples }) => examples)
  .filter(line => line !== OF_THE_KEEPER)

test.each(lines)('%s runs', async line => {
  expect(await run(line)).toMatchObject({ exit: 0 })
})
test('the commands left out are known', () => {
  expect(ELSEWHERE.filter(name => !COMMANDS.some(command => command.name === name))).toEqual([])
})
