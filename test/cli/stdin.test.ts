import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { cli } from '../../src/cli/cli.ts'
import { COMMANDS } from '../../src/cli/commands.ts'
import { fakeWorld } from '../support/world.ts'
import { wordsOf } from './words-of.ts'

const REGISTER = 'examples/ropewalk.yaml'
let folder: string
let register: Uint8Array
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'sashtally-stdin-'))
  cpSync(fileURLToPath(new URL('../../examples', import.meta.url)), join(folder, 'examples'), { recursive: true })
  cpSync(join(folder, 'examples/bellframe.hub.yaml'), join(folder, 'hub.yaml'))
  writeFileSync(join(folder, 'tally.jsonl'), '')
  register = readFileSync(join(folder, REGISTER))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

async function run(argv: readonly string[], stdin: Uint8Array = new Uint8Array(0)) {
  const world = fakeWorld({ cwd: folder, readStdin: async () => stdin })
  return { exit: await cli(argv, world), ...world.said }
}
const bytes = (text: string) => new TextEncoder().encode(text)

/** The example of each command that reads a register, its words after the program's name. */
const lines = COMMANDS.filter(({ args }) => 'file' in args).map(({ name, examples }) => {
  const line = examples.find(each => each.includes(` ${REGISTER}`))!
  return [name, wordsOf(line.replace(/ > .*$/, '')).slice(1)] as const
})
const fromStdin = (argv: readonly string[]) => argv.map(word => (word === REGISTER ? '-' : word))

describe('a command with a file as an argument reads `-` from standard input:', () => {
  test('there are many such commands, each with an example over the example register', () => {
    expect(lines.length).toBeGreaterThan(20)
    for (const [, argv] of lines) expect(argv).toContain(REGISTER)
  })

  // Whatever a command does, it reads the register first: its faults are told with their places, and nothing is done.
  test.each(lines)('%s', async (_name, argv) => {
    const { exit, stdout, stderr } = await run(fromStdin(argv), bytes('house: Ropewalk Studios\nopenings: 7\n'))
    expect(stdout + stderr).toMatch(/^standard input:2:\d+ /m)
    expect(exit).toBe(1)
  })
})

const PRINTS = ['check', 'emit asyncapi', 'emit things', 'emit labels', 'emit schedule', 'emit hub', 'suit', 'budget']
test.each(lines.filter(([name]) => PRINTS.includes(name)))(
  '%s makes the same of it as of the file',
  async (_name, argv) => {
    const shown = argv.filter(
      (word, index) => !/^(-o|--out)$/.test(word) && !/^(-o|--out)$/.test(argv[index - 1] ?? ''),
    )
    const ofFile = await run(shown)
    expect(ofFile.exit).toBe(0)
    const ofStdin = await run(fromStdin(shown), register)
    expect(ofStdin).toMatchObject({ exit: 0, stdout: ofFile.stdout.replaceAll(REGISTER, 'standard input') })
  },
)

describe('entries from standard input', () => {
  const entry = { id: 'a1', at: '2026-11-20T08:00:00.000Z', mark: 'W01', what: 'seen-closed', how: 'live' }
  test.each([
    ['lines of a tally file', `${JSON.stringify(entry)}\n`],
    ['a table', `id,at,mark,what,how\r\n${Object.values(entry).join(',')}\r\n`],
  ])('are %s', async (name, text) => {
    const data = join(folder, name)
    const { exit, stdout } = await run(['import', REGISTER, '-', '--data', data], bytes(text))
    expect({ exit, stdout }).toEqual({
      exit: 0,
      stdout: 'standard input: 1 of 1 entries taken; 0 stood there already\n',
    })
  })
  test('cannot come with the register', async () => {
    const { exit, stderr } = await run(['import', '-', '-', '--data', join(folder, 'both')], register)
    expect({ exit, stderr }).toEqual({
      exit: 2,
      stderr: 'sashtally: only one of <file> and <entries> can be standard input (-)\n',
    })
  })
})

test('standard input that is no UTF-8 is refused as a file would be', async () => {
  const { exit, stderr } = await run(['check', '-'], Uint8Array.of(0x68, 0xff))
  expect({ exit, stderr }).toEqual({
    exit: 3,
    stderr: 'sashtally: standard input cannot be read: it is not UTF-8 text\n',
  })
})
